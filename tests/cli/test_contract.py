"""The JSON report as the command line gives it: every field of the contract, every place a real one, the same in every process."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.cli.conftest import SHOP, Run, program, really
from tests.report.contract import CHECKED, COMPARED, REFUSED
from verifier.findings import all_rules
from verifier.source import read_source
from verifier.syntax import parse

PARTS = tomllib.loads((SHOP / "shop.toml").read_text(encoding="utf-8"))["parts"]
EDITS = [(part, edit) for part in PARTS for edit in part["edits"]]


def _places(value: Any) -> Iterator[dict[str, Any]]:
    """Every place anywhere in a report."""
    if isinstance(value, dict):
        if "side" in value:
            yield value
        for inner in value.values():
            yield from _places(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _places(inner)


def check_places(report: dict[str, Any], files: dict[str, Path]) -> int:
    """Hold every place against the file that it speaks of; gives how many there were."""
    count = 0
    for found in _places(report):
        data = files[found["side"]].read_bytes()
        lines = data.decode("utf-8").splitlines()
        blocks = parse(read_source(data)).blocks
        line = lines[found["line"] - 1]
        assert 1 <= found["column"] <= len(line) and not line[found["column"] - 1].isspace()
        block = blocks[found["block"]].line
        if line.startswith("("):  # a note on a line of its own goes with the block that follows it
            assert all(not text or text.startswith("(") for text in lines[found["line"] - 1 : block - 1])
        else:
            assert block == found["line"]
        assert (found["sequence"] is None) == (found["label"] == "")
        count += 1
    return count


def part_words(part: dict[str, Any]) -> tuple[object, ...]:
    return ("--machine", SHOP / part["machine"], "--setup", SHOP / part["setup"], "--policy", SHOP / "policy.toml")


@pytest.mark.parametrize(("part", "edit"), EDITS, ids=[edit["file"] for _, edit in EDITS])
def test_the_report_on_an_edit_keeps_its_contract(part: dict[str, Any], edit: dict[str, Any], run: Run) -> None:
    old, new = SHOP / part["base"], SHOP / edit["file"]
    report = json.loads(run("compare", old, new, *part_words(part), "--as", "json").stdout)
    COMPARED(report, "compare")
    assert check_places(report, {"old": old, "new": new}) > 0
    known = {rule.id: rule.revision for rule in all_rules()}
    assert report["rules"]["revisions"] == known
    assert all(known[f["rule"]] == f["revision"] for f in report["findings"])
    assert len({json.dumps(f, sort_keys=True) for f in report["findings"]}) == len(report["findings"])
    assert all(0 <= k < len(report["findings"]) for card in report["cards"] for k in card["findings"])
    olds = [row["old"] for row in report["blocks"] if row["old"] is not None]
    news = [row["new"] for row in report["blocks"] if row["new"] is not None]
    assert sorted(olds) == list(range(report["old"]["blocks"])) and sorted(news) == list(range(report["new"]["blocks"]))
    assert all(entry["kind"] != "same" or entry["old"] is not None for entry in report["blocks"])
    assert report["setup"] is not None and report["levels"]["wording"] == "changed"
    assert (report["verdict"] == "same behaviour") == (report["levels"]["behaviour"] == "same")


def test_every_change_of_behaviour_names_a_cause(run: Run) -> None:
    for part, edit in EDITS:
        report = json.loads(
            run("compare", SHOP / part["base"], SHOP / edit["file"], *part_words(part), "--as", "json").stdout
        )
        for finding in report["findings"]:
            assert finding["causes"] or finding["status"] != "change", finding["title"]


@pytest.mark.parametrize("part", PARTS, ids=[part["number"] for part in PARTS])
def test_the_report_on_one_program_keeps_its_contract(part: dict[str, Any], run: Run) -> None:
    file = SHOP / part["base"]
    report = json.loads(run("check", file, *part_words(part), "--as", "json").stdout)
    CHECKED(report, "check")
    check_places(report, {"new": file})
    assert report["sign_off"]["required"] and "first submission" in report["sign_off"]["reasons"]


def test_exchanging_the_two_programs_exchanges_the_answer(run: Run) -> None:
    old, new = program("base.nc"), program("seal-groove-0.3-smaller.nc")
    there = json.loads(run("compare", old, new, "--as", "json").stdout)
    back = json.loads(run("compare", new, old, "--as", "json").stdout)
    assert there["verdict"] == back["verdict"] and there["digest"] != back["digest"]
    assert [(f["before"], f["after"]) for f in there["findings"]] == [
        (f["after"], f["before"]) for f in back["findings"]
    ]


def test_a_refusal_keeps_its_contract(run: Run, tmp_path: Path) -> None:
    bad = tmp_path / "bad.nc"
    bad.write_bytes(b"")
    told = json.loads(run("check", bad, "--as", "json").stdout)
    for problem in told["problems"]:
        assert problem.pop("file") == str(bad)
    REFUSED(told, "error")


@pytest.mark.parametrize("form", ["json", "html", "text"])
def test_the_report_is_the_same_in_every_process(form: str, run: Run) -> None:
    words = ("compare", program("base.nc"), program("decimal-point-lost.nc"), "--as", form)
    seeds = ("1", "77") if form == "json" else ("77",)
    outputs = {really(*words, PYTHONHASHSEED=seed, PYTHONIOENCODING="utf-8").stdout for seed in seeds}
    assert outputs == {run(*words).stdout_bytes}


def test_the_digest_takes_no_notice_of_where_the_files_lie(run: Run, tmp_path: Path) -> None:
    old, new = program("base.nc"), program("decimal-point-lost.nc")
    copies = [tmp_path / "x.nc", tmp_path / "y.txt"]
    for copy, file in zip(copies, (old, new), strict=True):
        copy.write_bytes(file.read_bytes())
    here = json.loads(run("compare", old, new, "--as", "json").stdout)
    there = json.loads(run("compare", *copies, "--as", "json").stdout)
    assert here["digest"] == there["digest"] and here["new"]["name"] != there["new"]["name"]
