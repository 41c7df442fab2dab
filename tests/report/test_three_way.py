"""Base, edit and what came back: each change is laid to who made it, none is dropped, and what a release would take away is said."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from tests.properties.model import Job
from tests.properties.mutations import mutations
from tests.properties.render import text
from tests.properties.reviewing import lathe
from tests.properties.sizes import few
from tests.properties.strategies import jobs
from tests.report.test_sarif import STANDARD
from tests.report.test_schema import VALID
from verifier.cli import main
from verifier.report import ThreeWay, three_way, three_way_html, three_way_json, three_way_sarif, three_way_text
from verifier.report.three_way import ALIKE, COLLIDE, EDIT, MACHINE

BASE = "O1\nG21 G99 G40\nN1 (ROUGH)\nT0101\nG50 S2000\nG96 S150 M03\nG00 X50. Z2. M08\nG01 Z-20. F0.2\nX52.\nG00 X100. Z100.\nM09\nM30\n"


def told(base: str, edit: str, back: str) -> ThreeWay:
    return three_way(base.encode(), edit.encode(), back.encode(), machine=lathe())


def kinds(found: ThreeWay) -> list[str]:
    return [one.kind for one in found.changed]


@pytest.mark.parametrize(
    ("edit", "back", "kind"),
    [
        (("F0.2", "F0.25"), None, EDIT),
        (None, ("F0.2", "F0.15"), MACHINE),
        (("F0.2", "F0.25"), ("F0.2", "F0.250"), ALIKE),
        (("F0.2", "F0.25"), ("F0.2", "F0.15"), COLLIDE),
        (("F0.2", "F0.25"), ("Z-20.", "Z-19."), COLLIDE),
        (("X52.\n", ""), ("X52.\n", ""), ALIKE),
        (("X52.\n", ""), ("X52.", "X54."), COLLIDE),
        (("X52.\n", "X52.\nG04 X1.\n"), ("X52.\n", "X52.\nG04 X1.\n"), ALIKE),
        (("X52.\n", "X52.\nG04 X1.\n"), ("X52.\n", "X52.\nG04 X2.\n"), COLLIDE),
    ],
)
def test_each_place_is_laid_to_who_changed_it(
    edit: tuple[str, str] | None, back: tuple[str, str] | None, kind: str
) -> None:
    changed = [BASE if change is None else BASE.replace(*change) for change in (edit, back)]
    found = told(BASE, *changed)
    assert kinds(found) == [kind]
    assert bool(found.lost) == (kind in (MACHINE, COLLIDE))
    swapped = {EDIT: MACHINE, MACHINE: EDIT}
    assert kinds(told(BASE, *reversed(changed))) == [swapped.get(kind, kind)]


def test_changes_at_two_places_stay_two_though_they_are_neighbours() -> None:
    edit = BASE.replace("X52.\n", "X52.\nG04 X1.\n")
    found = told(BASE, edit, BASE.replace("X52.", "X54."))
    assert sorted(kinds(found)) == [EDIT, MACHINE]
    (lost,) = found.lost
    assert lost.base == ("X52.",) and lost.machine == ("X54.",) and lost.place is not None and lost.place.line == 9


def test_what_a_control_does_to_every_program_is_no_change() -> None:
    """Respelled numbers, other block numbers, no notes: common practice, no source."""
    back = re.sub(r"\([^)]*\)", "", BASE).replace("G01", "G1").replace("F0.2", "F.20").replace("X50.", "X50.000")
    found = told(BASE, BASE.replace("F0.2", "F0.25"), back)
    assert kinds(found) == [EDIT] and found.back.verdict == "same behaviour"
    assert told(BASE, BASE, back).changed == ()


def test_a_place_says_what_each_change_does_at_the_machine() -> None:
    (one,) = told(BASE, BASE.replace("S2000", "S3000"), BASE.replace("S2000", "S1000")).changed
    assert one.kind == COLLIDE
    assert any("critical: Speed clamp raised from 2000" in text for text in one.edit_does)
    assert any("touched: speed clamp: G50 S2000 is now G50 S1000" in text for text in one.machine_does)


@few(8)
@given(jobs(), st.integers(0, 2**16), st.integers(0, 2**16))
def test_laws_of_three_programs(job: Job, one: int, other: int) -> None:
    found = list(mutations(job))
    base, edit, back = text(job), text(found[one % len(found)][1]), text(found[other % len(found)][1])
    whole = three_way(base, edit, back, machine=lathe())
    assert set(kinds(three_way(base, edit, base, machine=lathe()))) <= {EDIT}
    assert set(kinds(three_way(base, base, back, machine=lathe()))) <= {MACHINE}
    assert set(kinds(three_way(base, edit, edit, machine=lathe()))) <= {ALIKE}
    # nothing is dropped: whatever a report tells of an edit stands at some place
    for report, side in ((whole.edit, "edit_does"), (whole.back, "machine_does")):
        said = {text for changed in whole.changed for text in getattr(changed, side)}
        for finding in report.findings:
            if finding.edits:
                assert any(finding.title in text for text in said), finding.title
        assert all(f"touched: {touch.text}" in said for touch in report.touched)
    if set(kinds(whole)) <= {ALIKE}:
        assert whole.between.verdict == "same behaviour"
    swapped = {EDIT: MACHINE, MACHINE: EDIT}
    mirrored = three_way(base, back, edit, machine=lathe())
    assert sorted(swapped.get(kind, kind) for kind in kinds(mirrored)) == sorted(kinds(whole))


def test_every_form_tells_it_with_one_digest() -> None:
    found = told(BASE, BASE.replace("F0.2", "F0.25"), BASE.replace("F0.2", "F0.15").replace("S2000", "S1800"))
    form = json.loads(json.dumps(three_way_json(found), allow_nan=False))
    VALID.validate(form)
    log = json.loads(json.dumps(three_way_sarif(found), allow_nan=False))
    assert [error.message for error in STANDARD.iter_errors(log)] == []
    assert [run["automationDetails"]["id"] for run in log["runs"]] == ["three-way/edit", "three-way/came-back"]
    page = three_way_html(found)
    assert all(entry.reason[:40] in page for report in found.reports for entry in report.unchecked)
    assert form["digest"] in page and "2 places would be lost" in page
    plain = three_way_text(found)
    assert form["digest"] in plain
    for shown in (page, plain):
        assert "G01 Z-20. F0.25" in shown and "G01 Z-20. F0.15" in shown and "G50 S1800" in shown
    again = told(BASE, BASE.replace("F0.2", "F0.25"), BASE.replace("F0.2", "F0.15").replace("S2000", "S1800"))
    assert three_way_json(again) == three_way_json(found)


@pytest.mark.parametrize(
    ("edit", "back", "code"), [("", "", 0), ("F0.2", "", 0), ("", "S2000", 1), ("S2000", "S2000", 1)]
)
def test_the_command_ends_as_its_weight_asks(edit: str, back: str, code: int, tmp_path: Path) -> None:
    files = []
    for name, word in (("base", ""), ("edit", edit), ("back", back)):
        changed = BASE.replace(word, f"{word}1") if word == "F0.2" else BASE.replace(word, "S1900") if word else BASE
        (tmp_path / f"{name}.nc").write_text(changed)
        files.append(str(tmp_path / f"{name}.nc"))
    done = CliRunner().invoke(main, ["compare", files[0], files[1], "--came-back", files[2]])
    assert done.exit_code == code, done.output
    assert "WHO CHANGED WHAT" in done.output


def test_two_machines_and_three_programs_do_not_go_together(tmp_path: Path) -> None:
    (tmp_path / "a.nc").write_text(BASE)
    name = str(tmp_path / "a.nc")
    done = CliRunner().invoke(main, ["compare", name, name, "--came-back", name, "--old-setup", "x.toml"])
    assert done.exit_code == 2 and "--came-back" in done.output
    done = CliRunner().invoke(main, ["compare", name, "-", "--came-back", "-"], input=BASE)
    assert done.exit_code == 2 and "only one of the programs" in done.output
