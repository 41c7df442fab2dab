"""What is drawn: the path of both sides where it lies, what only one of them goes, and numbers where edits act."""

from __future__ import annotations

from math import hypot

import pytest

from tests.report.test_cards import FIRST, program
from verifier.compare import compare, side
from verifier.findings import ChangeView, default_policy
from verifier.findings.examples import turning
from verifier.machines import Setup, generic_lathe, parse_setup
from verifier.report.picture.paper import Window, clipped, round_step, ticks
from verifier.report.picture.scene import Look, Scene, scene_of_change, scene_of_program
from verifier.source import read_source
from verifier.syntax import parse

CUT = "G01 Z-30. F0.2\nX62."
SHEET = b"""name = "bush"
units = "mm"
[stock]
kind = "bar"
diameter = 60
length = 100
face_z = 0
[tools.1]
kind = "turning"
insert = "CNMG 12 04 08"
approach_angle = 95
nose_radius = 0.8
orientation = 3
"""


def one(text: str, setup: Setup | None = None):  # type: ignore[no-untyped-def]
    return side(parse(read_source(text.encode(), "p")), generic_lathe(), setup=setup)


def scene(old: str, new: str, setup: Setup | None = None) -> Scene:
    change = ChangeView(compare(one(old, setup), one(new, setup)), default_policy())
    return scene_of_change(change, {edit.index: edit.index + 1 for edit in change.edits})


def points(found: Scene, look: Look, *, rapid: bool = False) -> list[tuple[tuple[float, float], ...]]:
    return [tuple(s.points) for s in found.stretches if s.look is look and s.rapid is rapid]


def test_the_path_lies_where_the_program_says() -> None:
    found = scene_of_program(one(turning(CUT)), "mm")
    cuts = points(found, Look.BOTH)
    assert cuts == [((2.0, 31.0), (-30.0, 31.0), (-30.0, 31.0))] or cuts == [((2.0, 31.0), (-30.0, 31.0))]
    assert points(found, Look.BOTH, rapid=True)[-1][-1] == (50.0, 50.0)


def test_nothing_stands_out_where_nothing_differs() -> None:
    found = scene(turning(CUT), turning(CUT.replace("30.", "30.0")))
    assert {s.look for s in found.stretches} == {Look.BOTH} and found.marks == ()


def test_of_a_cut_that_ends_elsewhere_only_the_rest_differs() -> None:
    """The groove bottom of 35 and of 34.7: down to 35 both go the same way."""
    body = "G00 X42.\nZ-10.\nG01 X{} F0.1\nG00 X42."
    found = scene(turning(body.format("35.")), turning(body.format("34.7")))
    assert points(found, Look.NEW) == [((-10.0, 17.5), (-10.0, 17.35))]
    assert points(found, Look.OLD) == []
    back = scene(turning(body.format("34.7")), turning(body.format("35.")))
    assert points(back, Look.OLD) == [((-10.0, 17.5), (-10.0, 17.35))] and points(back, Look.NEW) == []
    assert found.marks[0].number == 1 and found.marks[0].box == ((-10.0, 17.35), (-10.0, 17.5))


def test_other_values_on_the_same_path_are_told_from_another_path() -> None:
    found = scene(turning(CUT), turning(CUT.replace("F0.2", "F0.4")))
    assert points(found, Look.OTHER) and not points(found, Look.OLD) and not points(found, Look.NEW)
    assert [mark.number for mark in found.marks] == [1]


def test_an_arc_keeps_its_distance_from_its_centre_and_turns_the_right_way() -> None:
    """G02 from the end of a small diameter to a larger one, centre outside: a fillet, hollow as seen from outside."""
    found = scene_of_program(one(turning("G00 X40. Z-10.\nG02 X48. Z-14. R4. F0.1")), "mm")
    (arc,) = points(found, Look.BOTH)
    assert all(hypot(z + 10, x - 24) == pytest.approx(4, abs=1e-6) for z, x in arc)
    assert arc[0] == (-10.0, 20.0) and arc[-1] == (-14.0, 24.0)
    assert min(x for _, x in arc) == pytest.approx(20)


def test_places_are_drawn_where_the_machine_goes_whatever_they_are_called() -> None:
    """A preset calls the same place otherwise."""
    text = "G01 Z-30. F0.2\nG50 X62. Z0.\nG01 Z-5.\nX64."
    found = scene_of_program(one(turning(text)), "mm")
    cuts = points(found, Look.BOTH)
    assert (-35.0, 31.0) in [point for cut in cuts for point in cut]


def test_what_has_no_known_place_is_counted_not_drawn() -> None:
    found = scene_of_program(one(turning("G28 U0. W0.\nG01 W-3. F0.2\nG00 X62. Z2.\n" + CUT)), "mm")
    assert found.unplaced >= 2 and points(found, Look.BOTH)


def test_of_a_setup_sheet_the_raw_piece_and_what_is_left_of_it_are_drawn() -> None:
    setup = parse_setup(SHEET, "sheet", generic_lathe())
    body = "G00 X50.\nG01 Z-{}. F0.2\nX62."
    found = scene(turning(body.format(20)), turning(body.format(25)), setup)
    kinds = [one.kind for one in found.outlines]
    assert kinds[:2] == ["stock", "part"] and "only-before" in kinds and "only-now" not in kinds
    (only,) = (one for one in found.outlines if one.kind == "only-before")
    zs = [z for z, _ in only.corners]
    assert min(zs) == pytest.approx(-25, abs=0.01) and max(zs) <= -19


# -- the page -----------------------------------------------------------------------------------------------------------


def test_a_line_is_clipped_at_a_window() -> None:
    window = Window((0, 0), (10, 10), 0, 0, 1)
    ((start, end),) = clipped([(-10, 5), (20, 5)], window)
    assert start == pytest.approx((-0.2, 5)) and end == pytest.approx((10.2, 5))
    assert clipped([(-10, 50), (20, 50)], window) == []
    assert clipped([(1, 1), (2, 2), (3, 1)], window) == [[(1, 1), (2, 2), (3, 1)]]


@pytest.mark.parametrize(
    ("span", "most", "step"), [(100, 10, 10), (99, 10, 10), (31, 5, 10), (0.07, 4, 0.02), (7, 7, 1)]
)
def test_scales_have_round_steps(span: float, most: int, step: float) -> None:
    assert round_step(span, most) == pytest.approx(step)
    assert len(ticks(0, span, most)) <= most + 1


def test_the_same_change_gives_the_same_scene() -> None:
    old, new = program(FIRST).decode(), program(FIRST).decode().replace("Z-30.", "Z-31.")
    assert scene(old, new) == scene(old, new)
