"""For each kind of feature an edit of each of its sizes: the report tells old, new, difference, and by what it is judged.

The sizes follow from the programs by hand: a sharp edge leaves what is programmed. Tolerances of ISO 2768-1, class m: 0.1 mm to 6 mm, 0.2 to 30, 0.3
to 120; radii and chamfers 0.2 to 3 mm; angles with a shorter leg up to 10 mm 1 degree (the tables: tests/checks/test_tolerances).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

import pytest

from tests.geometry.parts import END, HEAD, exact, sheet
from tests.geometry.test_features import DRILL, SHARP, THREADING
from verifier.machines import Limit, Setup, Tool, content_digest
from verifier.report import ChangeReport, review, to_json

SECOND = Tool(2, **exact(kind="grooving", blade_width=3, nose_radius="0.2", orientation=3))
WIDER = Tool(2, **exact(kind="grooving", blade_width=3, nose_radius="0.4", orientation=3))
SHAFT = (
    "G00 X64. Z-0.5\nG01 X-1. F0.1\nZ2.\nG00 X32.\nG01 Z-0.5\nX36. Z-2.5\nZ-30.\nX44.\nX50. Z-50.\nZ-60.\nG02 X56. Z-63. R3.\nG01 X64.\n"
    "T0202\nG00 X64. Z-20.\nG01 X32. F0.1\nG00 X64.\nZ-21.\nG01 X32.\nG00 X64."
)
THREAD = "G00 X64. Z0.\nG01 X-1. F0.1\nG00 Z2.\nX40.\nG01 Z-40.\nX64.\nT0202\nG97 S500 M03\nG00 X44. Z5.\nX37.5\nG32 Z-30. F2.\nG00 X64.\nZ5."
TAPER_THREAD = "G00 X64. Z0.\nG01 X-1. F0.1\nG00 Z0.\nX40.\nG01 X42.5 Z-40.\nX64.\nT0202\nG97 S500 M03\nG00 X36. Z0.\nG32 X37.875 Z-30. F2.\nG00 X64."
HOLE = "G00 X0. Z5.\nG01 Z-30. F0.1\nG00 Z5."


@dataclass(frozen=True)
class Edit:
    """`old` is now `new` in a program; what is then told: the size, before, after, difference, and how the judgement begins."""

    program: str
    old: str
    new: str
    name: str
    before: str
    after: str
    difference: str
    judged: str


CLASS, OPEN = "ISO 2768-1 class m allows", ", but the drawing limit is not given"
GAUGE = "a thread is judged by its gauge"
BOTTOMS = "X{0} F0.1\nG00 X64.\nZ-21.\nG01 X{0}\n"
EDITS = {
    "diameter": Edit(
        SHAFT, "X36. Z-2.5", "X36.2 Z-2.6", "outside diameter", "36 mm", "36.2 mm", "+0.2 mm", f"{CLASS} ±0.3 mm: within it{OPEN}"
    ),
    "diameter beyond the class": Edit(
        SHAFT, "X36. Z-2.5", "X37. Z-3.", "outside diameter", "36 mm", "37 mm", "+1 mm", f"{CLASS} ±0.3 mm: beyond it"
    ),
    "face": Edit(SHAFT, "Z-0.5", "Z-0.52", "front face, Z", "-0.5 mm", "-0.52 mm", "-0.02 mm", f"{CLASS} ±0.1 mm: within it{OPEN}"),
    "shoulder": Edit(
        SHAFT, "Z-30.\nX44.", "Z-30.5\nX44.", "shoulder, Z", "-30 mm", "-30.5 mm", "-0.5 mm", f"{CLASS} ±0.2 mm: beyond it"
    ),
    "groove, width": Edit(SHAFT, "Z-21.", "Z-21.4", "outside groove, width", "4 mm", "4.4 mm", "+0.4 mm", f"{CLASS} ±0.1 mm: beyond it"),
    "groove, bottom": Edit(
        SHAFT, BOTTOMS.format("32."), BOTTOMS.format("31.9"), "outside groove, bottom diameter", "32 mm", "31.9 mm", "-0.1 mm",
        f"{CLASS} ±0.3 mm: within it{OPEN}",
    ),
    "taper, angle": Edit(
        SHAFT, "X50. Z-50.\nZ-60.", "X50. Z-48.\nZ-60.", "outside taper, angle", "8.53 degrees", "9.46 degrees", "+0.93 degrees",
        f"{CLASS} ±1 degrees: within it{OPEN}",
    ),
    "radius": Edit(SHAFT, "X56. Z-63. R3.", "X54. Z-62. R2.", "outside radius", "3 mm", "2 mm", "-1 mm", f"{CLASS} ±0.2 mm: beyond it"),
    "chamfer, angle": Edit(
        SHAFT, "G00 X32.\nG01 Z-0.5", "G00 X31.\nG01 Z-0.5", "outside chamfer, angle", "45 degrees", "51.34 degrees", "+6.34 degrees",
        f"{CLASS} ±1 degrees: beyond it",
    ),
    "chamfer, width": Edit(
        SHAFT, "X36. Z-2.5", "X36. Z-2.8", "outside chamfer, width", "2 mm", "2.3 mm", "+0.3 mm", f"{CLASS} ±0.2 mm: beyond it"
    ),
    "thread, major": Edit(THREAD, "X40.\n", "X39.8\n", "outside thread, major diameter", "40 mm", "39.8 mm", "-0.2 mm", GAUGE),
    "thread, minor": Edit(THREAD, "X37.5\n", "X37.3\n", "outside thread, minor diameter", "37.5 mm", "37.3 mm", "-0.2 mm", GAUGE),
    "thread, lead": Edit(THREAD, "F2.", "F1.5", "outside thread, lead", "2 mm", "1.5 mm", "-0.5 mm", GAUGE),
    "thread, length": Edit(
        THREAD, "G32 Z-30.", "G32 Z-28.", "outside thread, length", "30 mm", "28 mm", "-2 mm", f"{CLASS} ±0.2 mm: beyond it"
    ),
    "thread, taper": Edit(
        TAPER_THREAD, "X37.875", "X38.5", "outside thread, taper angle", "1.79 degrees", "2.39 degrees", "+0.6 degrees", f"{CLASS} ±"
    ),
    "hole, depth": Edit(HOLE, "Z-30.", "Z-31.", "hole, full depth", "-26.9957 mm", "-27.9957 mm", "-1 mm", f"{CLASS} ±0.2 mm: beyond it"),
}  # fmt: skip
KINDS = ("diameter", "face", "shoulder", "groove", "taper", "radius", "chamfer", "thread", "hole")


def setup_of(program: str, *limits: Limit, blade: Tool = SECOND) -> Setup:
    """The sheet that a program needs."""
    tools = {SHAFT: (SHARP, blade), HOLE: (DRILL,)}.get(program, (SHARP, THREADING))
    given = replace(sheet(*tools), limits=limits)
    return replace(given, digest=content_digest(given))


def reviewed(edit: Edit, *limits: Limit) -> ChangeReport:
    assert edit.old in edit.program
    texts = (HEAD + body + END for body in (edit.program, edit.program.replace(edit.old, edit.new)))
    old, new = (text.encode() for text in texts)
    return review(old, new, setup=setup_of(edit.program, *limits))


@pytest.mark.parametrize("kind", EDITS)
def test_an_edit_of_a_size_is_told_and_judged_by_the_class(kind: str) -> None:
    edit = EDITS[kind]
    part = reviewed(edit).part
    assert part is not None and part.certain_after
    rows = {row.name: row for row in part.features}
    row = rows[edit.name]
    assert (row.before, row.after, row.difference) == (edit.before, edit.after, edit.difference)
    assert row.weight == "major", "no limit of the drawing is given"
    assert row.judged.startswith(edit.judged), row.judged


def test_every_kind_of_feature_has_its_edit() -> None:
    told = {row["kind"] for edit in EDITS.values() for row in to_json(reviewed(edit))["part"]["features"]}
    assert set(KINDS) <= told


@pytest.mark.parametrize(
    ("kind", "limit"),
    [
        ("diameter", Limit("X", Fraction(36), Fraction("0.05"), Fraction("-0.05"), "seat")),
        ("shoulder", Limit("Z", Fraction(30), Fraction("0.1"), Fraction("-0.1"), "seat")),
        ("groove, width", Limit("L", Fraction(4), Fraction("0.1"), Fraction(0), "seat")),
        ("radius", Limit("R", Fraction(3), Fraction("0.1"), Fraction("-0.1"), "seat")),
        ("chamfer, width", Limit("R", Fraction(2), Fraction("0.1"), Fraction("-0.1"), "seat")),
        ("thread, length", Limit("L", Fraction(30), Fraction("0.5"), Fraction("-0.5"), "seat")),
    ],
)
def test_the_limit_of_the_drawing_goes_before_the_class(kind: str, limit: Limit) -> None:
    part = reviewed(EDITS[kind], limit).part
    assert part is not None
    (row,) = (row for row in part.features if row.name == EDITS[kind].name)
    assert row.limit.startswith("drawing limit") and "seat" in row.limit and "ISO" not in row.judged
    assert row.judgement == "outside it" and row.weight == "major"


def test_another_blade_changes_the_corner_of_a_groove() -> None:
    """The same program before and after another sheet: the corner is that of the blade, 0.2 and 0.4 mm."""
    text = (HEAD + SHAFT + END).encode()
    report = review(text, text, old_setup=setup_of(SHAFT), setup=setup_of(SHAFT, blade=WIDER))
    assert report.part is not None
    rows = {row.name: row for row in report.part.features}
    row = rows["outside groove, corner radius"]
    assert (row.before, row.after, row.difference) == ("0.2 mm", "0.4 mm", "+0.2 mm")
