"""Holes: the laws that every one keeps, whichever way it points."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from verifier.control.cycles import STROKE_LIMIT, Hole, drill_axial, drill_radial
from verifier.control.cycles.drill import KINDS
from verifier.control.strokes import CycleFault, Kind, Pause, Point, Reversal, Stroke

from .shapes import CALM, moves


@st.composite
def holes(draw: st.DrawFn) -> tuple[int, Hole]:
    amount = st.integers(1, 500)
    level = draw(st.integers(-2000, 2000))
    peck = draw(st.one_of(st.none(), amount))
    start = level + draw(st.integers(0, 300))
    hole = Hole(
        draw(st.sampled_from(KINDS)), level, level - draw(st.integers(1, 4000)), draw(st.sampled_from((level, start))),
        peck, draw(st.integers(0, 100)), draw(st.booleans()), draw(st.sampled_from((0, 250))),
    )  # fmt: skip
    return start, hole


@CALM
@given(holes())
def test_a_hole_reaches_its_bottom_once_in_pecks_no_deeper_than_asked_and_ends_where_it_should(
    job: tuple[int, Hole],
) -> None:
    start, hole = job
    deepest = at = hole.level
    for stroke in moves(drill_radial(Point(start, 7), hole)):
        assert stroke.end.z == 7
        if stroke.kind.cuts and stroke.end.x < deepest:
            assert hole.peck is None or deepest - stroke.end.x <= hole.peck
            assert at >= deepest
            deepest = stroke.end.x
        elif not stroke.kind.cuts:
            assert stroke.end.x >= deepest, "no rapid goes deeper than what is cut"
        at = stroke.end.x
    assert deepest == hole.bottom
    assert at == hole.back


@CALM
@given(holes())
def test_a_hole_along_z_is_the_one_along_x_with_the_axes_exchanged(job: tuple[int, Hole]) -> None:
    start, hole = job
    axial, radial = moves(drill_axial(Point(7, start), hole)), moves(drill_radial(Point(start, 7), hole))
    assert [(s.kind, s.end.z, s.end.x, s.step) for s in axial] == [(s.kind, s.end.x, s.end.z, s.step) for s in radial]


@CALM
@given(holes())
def test_a_hole_the_other_way_is_its_mirror_image(job: tuple[int, Hole]) -> None:
    start, hole = job
    mirrored = Hole(
        hole.kind, -hole.level, -hole.bottom, -hole.back, hole.peck, hole.clearance, hole.full, hole.dwell
    )  # fmt: skip
    one, other = moves(drill_radial(Point(start, 7), hole)), moves(drill_radial(Point(-start, 7), mirrored))
    assert [(s.kind, s.end.x) for s in one] == [(s.kind, -s.end.x) for s in other]


def test_a_tap_turns_round_at_the_bottom_and_when_it_is_out() -> None:
    found = drill_axial(Point(0, 5), Hole("tap", 2, -20, 5, dwell=100))
    assert not isinstance(found, CycleFault)
    told = [s.end.z if isinstance(s, Stroke) else type(s).__name__ for s in found]
    assert told == [2, -20, Pause.__name__, Reversal.__name__, 2, Reversal.__name__, 5]
    assert [s.kind for s in found if isinstance(s, Stroke)] == [Kind.RAPID, Kind.FEED, Kind.FEED, Kind.RAPID]


@pytest.mark.parametrize(
    ("hole", "code"),
    [
        (Hole("drill", 0, 0, 5), "hole-without-depth"),
        (Hole("drill", -30, -20, 5), "r-level-beyond-bottom"),
        (Hole("drill", 0, -20, 5, peck=0), "peck-not-positive"),
        (Hole("drill", 0, -20, 5, peck=5, clearance=-1), "amount-negative"),
        (Hole("drill", 0, -STROKE_LIMIT, 5, peck=1), "too-many-strokes"),
    ],
)
def test_what_makes_no_hole(hole: Hole, code: str) -> None:
    found = drill_radial(Point(5, 0), hole)
    assert isinstance(found, CycleFault)
    assert found.code == code
