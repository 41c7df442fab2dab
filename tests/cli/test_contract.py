"""Exit codes, standard input, the JSON report's contract, help texts, and the demo shop's expected answers."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

import click
import pytest

from tests.cli.conftest import ROOT, SHOP, Run, program
from verifier.cli import main

PARTS = tomllib.loads((SHOP / "shop.toml").read_text(encoding="utf-8"))["parts"]
EDITS = [(part, edit) for part in PARTS for edit in part["edits"]]
PLACE = {"side", "block", "line", "column", "sequence", "label"}


@pytest.mark.parametrize(("part", "edit"), EDITS, ids=[edit["file"] for _, edit in EDITS])
def test_each_edit_of_the_demo_shop_gets_its_verdict_and_its_findings(
    part: dict[str, Any], edit: dict[str, Any], run: Run
) -> None:
    files = [SHOP / part["base"], SHOP / edit["file"]]
    words = (
        "--machine",
        SHOP / part["machine"],
        "--setup",
        SHOP / part["setup"],
        "--policy",
        SHOP / "policy.toml",
        "--as",
        "json",
    )
    done = run("compare", *files, *words)
    report = json.loads(done.stdout)
    assert report["verdict"] == edit["expect"]["verdict"]
    assert set(edit["expect"]["rules"]) <= {finding["rule"] for finding in report["findings"]}
    assert done.exit_code == (1 if report["sign_off"]["required"] else 0)


def test_exit_codes(run: Run, tmp_path: Path) -> None:
    base = program("base.nc")
    assert run("compare", base, base).exit_code == 0
    assert run("compare", base, program("decimal-point-lost.nc")).exit_code == 1
    old, new = tmp_path / "a.nc", tmp_path / "b.nc"
    old.write_text("O1\n#1=10.\nG01 X#1 F0.2\nM30\n")
    new.write_text("O1\n#1=12.\nG01 X#1 F0.2\nM30\n")
    assert run("compare", old, new).exit_code == 3
    assert run("check", base).exit_code == 0
    assert run("compare", base).exit_code == 2


def test_a_dash_is_standard_input(run: Run) -> None:
    done = run("compare", program("base.nc"), "-", given=program("base.nc").read_bytes())
    assert done.exit_code == 0 and "SAME BEHAVIOUR" in done.stdout


def test_the_json_report_keeps_its_contract(run: Run) -> None:
    report = json.loads(
        run("compare", program("base.nc"), program("seal-groove-0.3-smaller.nc"), "--as", "json").stdout
    )
    assert report["schema"] == "change-report/1"
    assert set(report["levels"]) == {"wording", "words", "behaviour", "part"}
    assert set(report["levels"].values()) <= {"same", "changed", "undetermined", "not computed"}
    assert set(report["sign_off"]) == {"required", "reasons"}
    for finding in report["findings"]:
        assert {
            "rule",
            "revision",
            "weight",
            "status",
            "title",
            "why",
            "watch",
            "before",
            "after",
            "causes",
            "effects",
        } <= set(finding)
        assert finding["weight"] in ("critical", "major", "minor")
        assert finding["status"] in ("change", "new", "still there", "gone")
        assert all(set(place) == PLACE for place in [*finding["causes"], *finding["effects"]])
    assert all({"old", "new", "kind"} == set(entry) for entry in report["wording"])
    assert all({"what", "reason", "place"} <= set(entry) for entry in report["unchecked"])
    kinds = {"same", "wording", "changed", "added", "removed", "moved"}
    assert all(set(row) == {"old", "new", "kind"} and row["kind"] in kinds for row in report["blocks"])
    assert report["part"] is None and {"before_s", "after_s", "sequences"} <= set(report["time"])
    assert len(report["digest"]) == 64 and all(len(report[name]["digest"]) == 64 for name in ("machine", "policy"))


def test_the_report_is_the_same_in_every_process() -> None:
    words = [
        sys.executable,
        "-m",
        "verifier",
        "compare",
        str(program("base.nc")),
        str(program("decimal-point-lost.nc")),
        "--as",
        "json",
    ]
    outputs = {
        subprocess.run(
            words, capture_output=True, cwd=ROOT, env={**os.environ, "PYTHONHASHSEED": seed}, check=False
        ).stdout
        for seed in ("1", "77")
    }
    assert len(outputs) == 1 and b"change-report/1" in outputs.pop()


def _commands(group: click.Group, path: tuple[str, ...] = ()) -> list[tuple[tuple[str, ...], click.Command]]:
    found = []
    for name, command in group.commands.items():
        here = (*path, name)
        found += _commands(command, here) if isinstance(command, click.Group) else [(here, command)]
    return found


@pytest.mark.parametrize(("path", "command"), _commands(main), ids=[" ".join(path) for path, _ in _commands(main)])
def test_every_command_tells_what_it_does(path: tuple[str, ...], command: click.Command, run: Run) -> None:
    told = run(*path, "--help")
    assert told.exit_code == 0
    assert (command.help and command.help.split("\n")[0] in told.stdout.replace("\n  ", " ")) or command.help
    for option in command.params:
        if isinstance(option, click.Option):
            assert option.opts[0] in told.stdout


def test_the_demo_leaves_nothing_behind(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    done = run("demo", "--once")
    assert done.exit_code == 0 and list(tmp_path.iterdir()) == []
    kept = run("demo", "--folder", tmp_path / "kept")
    assert kept.exit_code == 0
    assert run("ledger", "verify", "--shop", tmp_path / "kept").exit_code == 0
    assert run("shop", "check", "--shop", tmp_path / "kept").exit_code == 0
