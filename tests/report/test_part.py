"""The part in the report: what changed on it, judged; the same part is called the same; what is not computed is said."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from verifier.machines import FrozenMap, Machine, Setup, load_machine, load_setup
from verifier.report import ChangeReport, examine, review, to_json, to_text

SHOP = Path(__file__).parents[2] / "fixtures" / "shop"
MACHINE = {"drive-shaft": "north-lathe", "flanged-sleeve": "north-lathe", "clamp-stud": "dock-lathe"}


def sheet(folder: str) -> tuple[Machine, Setup]:
    machine = load_machine(SHOP / "machines" / f"{MACHINE[folder]}.toml")
    return machine, load_setup(SHOP / "setups" / f"{folder}.toml", machine)


def read(folder: str, name: str) -> bytes:
    return (SHOP / "programs" / folder / f"{name}.nc").read_bytes()


def reviewed(folder: str, name: str, base: str = "base") -> ChangeReport:
    machine, setup = sheet(folder)
    return review(read(folder, base), read(folder, name), machine=machine, setup=setup)


@pytest.mark.parametrize(
    ("folder", "edit", "name", "before", "after", "judged"),
    [
        ("drive-shaft", "seal-groove-0.3-smaller", "outside groove, bottom diameter", "35 mm", "34.7 mm",
         "drawing limit 35 mm ±0.05 mm (bottom of the seal groove): outside it"),
        ("flanged-sleeve", "bore-0.05-bigger", "inside diameter", "26.01 mm", "26.06 mm",
         "drawing limit 26 mm +0.021 mm / 0 mm (bore 26 H7): outside it"),
        ("flanged-sleeve", "minus-sign-lost", "outside groove, width", "4.2 mm", "3 mm",
         "ISO 2768-1 class m allows ±0.1 mm: beyond it"),
    ],
)  # fmt: skip
def test_an_edit_shows_the_size_that_it_changes(
    folder: str, edit: str, name: str, before: str, after: str, judged: str
) -> None:
    report = reviewed(folder, edit)
    assert report.levels["part"] == "changed" and report.part is not None
    (row,) = report.part.features
    assert (row.before, row.after, row.weight) == (before, after, "major")
    assert (row.name, row.judged) == (name, judged)
    assert any(f"{sign}{before} -> {sign}{after}" in " ".join(to_text(report).split()) for sign in ("", "Ø"))


@pytest.mark.parametrize(
    ("folder", "edit"),
    [
        ("drive-shaft", "base"),
        ("drive-shaft", "renumbered-respaced"),
        ("flanged-sleeve", "turning-cycle-written-out"),
        ("flanged-sleeve", "speed-clamp-deleted"),
        ("clamp-stud", "groove-cycle-written-out"),
        ("clamp-stud", "roughing-feed-doubled"),
        ("clamp-stud", "time-saved"),
    ],
)
def test_an_edit_that_leaves_the_part_is_said_to(folder: str, edit: str) -> None:
    report = reviewed(folder, edit)
    assert report.levels["part"] == "same"
    assert report.part is not None and report.part.features == ()


def test_the_part_is_uncertain_where_a_rapid_runs_into_it() -> None:
    report = reviewed("clamp-stud", "air-cut-to-rapid-g1-forgotten")
    assert report.levels["part"] == "undetermined"
    assert report.part is not None and (report.part.certain_before, report.part.certain_after) == (True, False)
    hits = [f for f in report.findings if f.rule == "rapid-into-material"]
    assert {str(f.status) for f in hits} == {"new"} and {str(f.weight) for f in hits} == {"critical"}


def test_exchanged_programs_exchange_the_features() -> None:
    there = reviewed("drive-shaft", "seal-groove-0.3-smaller").part
    back = reviewed("drive-shaft", "base", "seal-groove-0.3-smaller").part
    assert there is not None and back is not None
    assert [(r.before, r.after, r.difference) for r in there.features] == [("35 mm", "34.7 mm", "-0.3 mm")]
    assert [(r.before, r.after, r.difference) for r in back.features] == [("34.7 mm", "35 mm", "+0.3 mm")]


def test_a_thread_with_another_lead_is_another_part() -> None:
    machine, setup = sheet("drive-shaft")
    base = read("drive-shaft", "base")
    assert base.count(b"Q300 F2.") == 1
    other = base.replace(b"Q300 F2.", b"Q300 F1.5")
    report = review(base, other, machine=machine, setup=setup)
    assert report.levels["part"] == "changed" and report.part is not None
    assert [(r.name, r.before, r.after) for r in report.part.features] == [("outside thread, lead", "2 mm", "1.5 mm")]
    deeper = review(
        base, base.replace(b"G76 X27.496 Z-23.5 P1227", b"G76 X27.3 Z-23. P1325"), machine=machine, setup=setup
    ).part
    assert deeper is not None
    # Both ends of its passes lie in the relief, so that its length stays.
    changed = {(r.dimension, r.before, r.after) for r in deeper.features}
    assert {("minor diameter", "27.496 mm", "27.3 mm"), ("end", "-23.5 mm", "-23 mm")} <= changed
    fewer = base.replace(b"P1227 Q300", b"P1227 Q400")
    assert review(base, fewer, machine=machine, setup=setup).levels["part"] == "same"


def test_a_first_submission_has_all_features() -> None:
    machine, setup = sheet("flanged-sleeve")
    part = examine(read("flanged-sleeve", "base"), machine=machine, setup=setup).part
    assert part is not None and part.certain_before is None
    diameters = {(row.where, row.after) for row in part.features if row.kind == "diameter"}
    assert {
        ("outside", "58 mm"),
        ("outside", "45 mm"),
        ("inside", "34 mm"),
        ("inside", "26.01 mm"),
    } <= diameters
    (groove,) = (row for row in part.features if row.kind == "groove")
    assert groove.after == "bottom diameter 39.6 mm, width 4.2 mm, edge -18.2 mm, corner radius 0.2 mm"
    assert all(row.before is None and row.weight is None for row in part.features)


def test_without_a_setup_sheet_it_is_not_computed_and_that_is_said() -> None:
    machine, _ = sheet("drive-shaft")
    report = review(read("drive-shaft", "base"), read("drive-shaft", "seal-groove-0.3-smaller"), machine=machine)
    assert report.part is None and report.levels["part"] == "not computed"
    assert to_json(report)["part"] is None
    told = [entry for entry in report.unchecked if entry.what == "part, stock, tools, contacts, load and surface"]
    (reason,) = (entry.reason for entry in told)
    assert reason.startswith("no setup sheet names the stock: ")
    for what in (
        "material",
        "holder",
        "jaws",
        "neighbours",
        "finished part",
        "force, power, roughness and grip",
        "measure every size",
    ):
        assert what in reason
    assert not any(f.rule == "rapid-into-material" for f in report.findings)


def test_what_was_not_swept_is_not_checked() -> None:
    machine, setup = sheet("drive-shaft")
    bare = FrozenMap((station, replace(tool, holder=())) for station, tool in setup.tools.items())
    report = examine(read("drive-shaft", "base"), machine=machine, setup=replace(setup, tools=bare))
    reasons = {(entry.what, entry.reason) for entry in report.unchecked}
    assert ("T3", "its holder is not given: contacts of a holder or shank are not checked") in reasons
    told = examine(read("drive-shaft", "base"), machine=machine, setup=setup)
    assert not any("holder" in entry.reason for entry in told.unchecked)


@pytest.mark.parametrize("folder", MACHINE)
def test_the_holders_of_good_programs_touch_nothing(folder: str) -> None:
    """Common practice, no source: a program that has made good parts runs no holder into the piece."""
    machine, setup = sheet(folder)
    report = examine(read(folder, "base"), machine=machine, setup=setup)
    assert all(tool.holder for tool in setup.tools.values())
    assert not {f.rule for f in report.findings} & {"holder-into-material", "keep-out-entered", "rapid-into-material"}


@pytest.mark.parametrize(("retract", "met"), [("G00 Z2.", False), ("G00 Z-20.", True)])
def test_a_shortened_retract_runs_a_bar_into_the_piece(retract: str, met: bool) -> None:
    """The bar of T9 lies below its edge: 16 thick with its axis 9 from it (setup sheet), its sleeve begins 55 from it and reaches 11 over it.

    At Z-20 the edge goes out to X80 through the wall of the bore, and the bar with it: 26.01 to 45.8 are bore and outside of the roughed piece.
    """
    machine, setup = sheet("flanged-sleeve")
    before, after = read("flanged-sleeve", "base").split(b"G70 P200 Q210\nG00 Z20.\n")
    old, new = (before + b"G70 P200 Q210\n" + way + b"\nX80.\n" + after for way in (b"G00 Z20.", retract.encode()))
    report = review(old, new, machine=machine, setup=setup)
    found = [f.title for f in report.findings if f.rule == "holder-into-material"]
    assert found == met * [
        "The holder or shank of T9 runs 9.895 mm into the piece, between Z -19.2 mm and 0.1 mm, diameter 26.01 mm to 45.8 mm"
    ]


def test_a_blade_that_plunges_too_deep_takes_its_holder_along() -> None:
    """The blade reaches 18 (setup sheet); at X0.035 its holder stands at a radius of 18.0175, and the collar beside the groove has 20."""
    found = [
        f.title for f in reviewed("drive-shaft", "decimal-point-lost").findings if f.rule == "holder-into-material"
    ]
    assert [title.split(",")[0] for title in found] == ["The holder or shank of T3 runs 1.9825 mm into the piece"]
