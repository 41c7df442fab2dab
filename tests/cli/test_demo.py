"""The demo shop's acceptance: each edit gets the verdict and the findings that its shop file expects."""

from __future__ import annotations

import json
import os
import re
import tempfile
from pathlib import Path
from typing import Any

import pytest

from tests.cli.conftest import Run
from tests.cli.test_contract import EDITS, PARTS, SHOP, part_words
from verifier import records
from verifier.cli import demo


@pytest.mark.parametrize(("part", "edit"), EDITS, ids=[edit["file"] for _, edit in EDITS])
def test_an_edit_gets_its_verdict_and_its_findings(part: dict[str, Any], edit: dict[str, Any], run: Run) -> None:
    done = run("compare", SHOP / part["base"], SHOP / edit["file"], *part_words(part), "--as", "json")
    report = json.loads(done.stdout)
    assert report["verdict"] == edit["expect"]["verdict"]
    told = {f["rule"] for f in report["findings"] if f["status"] in ("change", "new")}
    assert set(edit["expect"]["rules"]) <= told
    if edit["expect"]["verdict"] == "same behaviour":
        assert told <= {*edit["expect"]["rules"], "setup-note-changed", "remark-changed"}
        assert all(f["weight"] == "minor" for f in report["findings"] if f["rule"] in told)
    assert done.exit_code == int(report["sign_off"]["required"])


@pytest.mark.parametrize("part", PARTS, ids=[part["number"] for part in PARTS])
def test_a_proven_program_is_free_of_heavy_findings(part: dict[str, Any], run: Run) -> None:
    done = run("check", SHOP / part["base"], *part_words(part), "--as", "json")
    assert done.exit_code == 0, [f["title"] for f in json.loads(done.stdout)["findings"]]


def test_once_prints_every_edit_and_leaves_nothing_behind(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    here, temporary = tmp_path / "here", tmp_path / "temporary"
    here.mkdir()
    temporary.mkdir()
    monkeypatch.chdir(here)
    monkeypatch.setattr(tempfile, "tempdir", str(temporary))
    done = run("demo", "--once")
    assert done.exit_code == 0 and done.stderr == ""
    for _, edit in EDITS:
        shown = done.stdout.split(f"EDIT {edit['file']}\n")[1].split("\nEDIT ")[0]
        assert f"VERDICT: {edit['expect']['verdict'].upper()}" in shown
        together = "".join(shown.split())  # a rule's id may be broken at the end of a line
        assert [rule for rule in edit["expect"]["rules"] if f"<{rule}>" not in together] == []
    assert "0 faults" in done.stdout
    assert list(here.iterdir()) == [] and list(temporary.iterdir()) == []


def test_a_kept_demo_shop_works(run: Run, tmp_path: Path) -> None:
    folder = tmp_path / "kept"
    done = run("demo", "--folder", folder)
    assert done.exit_code == 0 and str(folder) in done.stdout
    pin = (folder / "pin.txt").read_text().strip()
    if os.name == "posix":
        assert (folder / "pin.txt").stat().st_mode & 0o077 == 0, "others can read the PIN"
    for words in (("ledger", "verify"), ("shop", "check")):
        assert run(*words, "--shop", folder).exit_code == 0
    edit = SHOP / "programs" / "clamp-stud" / "roughing-feed-doubled.nc"
    at = ("--shop", folder, "--for", "dock-lathe")
    held = run("submit", *at, "--by", "programmer-b", "O1203", edit, "--reason", "again")
    report = re.search(r"^report ([0-9a-f]{64})$", held.stdout, flags=re.MULTILINE)
    assert held.exit_code == 1 and report is not None
    number = re.search(r"O1203 revision ([0-9]+) for", held.stdout)
    assert number is not None
    words = ("--verdict", "approve", "--report", report[1][:8], "--revision", number[1], "--reason", "seen")
    assert run("decide", *at, "--by", "lead-a", "O1203", *words, pin=pin).exit_code == 0
    assert run("release", *at, "--by", "lead-a", "O1203", "--revision", number[1], "--reason", "go").exit_code == 0
    assert (folder / "floor" / "dock-lathe" / "O1203.NC").read_bytes() == edit.read_bytes()
    with records.open_shop(folder, lambda: 1) as opened:
        assert len(records.people(opened)) == 6
    assert run("demo", "--folder", folder).exit_code == 2, "a shop that is there is not made anew"


def test_the_demo_says_what_is_missing(run: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(demo, "_CHECKOUT", tmp_path)
    monkeypatch.setattr(demo, "_PACKED", "nowhere")
    told = run("demo", "--once")
    assert told.exit_code == 2 and "missing from this installation" in told.stderr
