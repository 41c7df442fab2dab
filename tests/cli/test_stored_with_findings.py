"""What can be read at all is judged, not refused: the named finding is there, and nothing breaks."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.cli.conftest import Run

HEAD = "O1 (SPACER)\nN1 G00 G21 G40 G54 G97 G99\nT0101\nG50 S2000\nG96 S180 M03\nG00 X62. Z2. M08\n"
TAIL = "G00 X100. Z50.\nM09\nM05\nG97\nM30\n"

CASES = {
    "full-width digits": ("G01 X５０. F0.2", TAIL, "look-alike-character"),
    "letter O for zero": ("GO1 X50. F0.2", TAIL, "unreadable-block"),
    "unclosed comment": ("G01 X50. F0.2 (NOTE\nZ-5.", TAIL, "text-problem"),
    "nested comment": ("G01 X50. F0.2 (A (B) C)", TAIL, "text-problem"),
    "two codes of one group": ("G00 G01 X50. F0.2", TAIL, "contradicting-words"),
    "a word twice": ("G01 X50. X51. F0.2", TAIL, "contradicting-words"),
    "number without digits": ("G01 X F0.2", TAIL, "unreadable-block"),
    "two points": ("G01 X4.5.Z0. F0.2", TAIL, "unreadable-block"),
    "comma for point": ("G01 Z-0,15 F0.2", TAIL, "unreadable-block"),
    "program end missing": ("G01 X50. F0.2", "G00 X100. Z50.\nM09\nM05\n", "program-end-missing"),
    "contour label missing": (
        "G71 U2. R0.5\nG71 P10 Q20 U0.4 W0.1 F0.2\nN10 G00 X40.\nG01 Z-9.",
        TAIL,
        "contour-label-missing",
    ),
    "contour label repeated": (
        "G71 U2. R0.5\nG71 P10 Q20 U0.4 W0.1 F0.2\nN10 G00 X40.\nN10 G01 Z-9.\nN20 X62.",
        TAIL,
        "contour-label-repeated",
    ),
    "merge conflict marks": ("<<<<<<< HEAD\nG01 X50. F0.2", TAIL, "unreadable-block"),
    "words without brackets": ("roughing pass\nG01 X50. F0.2", TAIL, "unreadable-block"),
    "bare set-up line": ("[BILLET X53 Z49.8", TAIL, "unreadable-block"),
    "incremental for ever": ("G01 U-0.5 F0.2\nM98 P1", TAIL, "run-does-not-end"),
}


@pytest.mark.parametrize("name", CASES)
def test_a_typing_error_is_a_finding(name: str, run: Run, tmp_path: Path) -> None:
    body, tail, rule = CASES[name]
    file = tmp_path / "program.nc"
    file.write_bytes((HEAD + body + "\n" + tail).encode())
    done = run("check", file, "--as", "json")
    report = json.loads(done.stdout)
    found = {finding["rule"] for finding in report["findings"]}
    assert rule in found
    heavy = any(finding["weight"] != "minor" for finding in report["findings"])
    assert done.exit_code == (1 if heavy else 0)


def test_a_program_that_repeats_for_ever_is_run_until_its_state_repeats(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "bar.nc"
    file.write_bytes((HEAD + "G01 X50. F0.2\n" + TAIL.replace("M30", "M99")).encode())
    report = json.loads(run("compare", file, file, "--as", "json").stdout)
    assert report["verdict"] == "same behaviour"


def test_markup_in_a_note_is_shown_as_text(run: Run, tmp_path: Path) -> None:
    old, new, page = tmp_path / "old.nc", tmp_path / "new.nc", tmp_path / "report.html"
    note = "(TURN 50. <script>alert(1)</script>)\n"
    old.write_bytes((HEAD + note + "G01 X50. F0.2\n" + TAIL).encode())
    new.write_bytes((HEAD + note.replace("50.", "51.") + "G01 X51. F0.2\n" + TAIL).encode())
    assert run("compare", old, new, "--as", "html", "--out", page).exit_code == 1
    text = page.read_text(encoding="utf-8")
    assert "<script" not in text and "&lt;script&gt;" in text
