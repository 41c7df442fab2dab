"""Crossings of a level are exact to the tick and lie on the side where stock remains."""

from __future__ import annotations

from fractions import Fraction
from math import isqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from verifier.control.cycles.profile import Piece, pieces_of_segment, profile_of
from verifier.control.strokes import Kind, Point, Segment

from .shapes import CALM, MM

LENGTH = st.integers(1, 10**10)
PLACE = st.integers(-(10**10), 10**10)


@CALM
@given(PLACE, PLACE, LENGTH, LENGTH, st.booleans(), st.fractions(0, 1))
def test_a_crossing_of_a_line_is_rounded_to_the_side_of_the_stock(
    x: int, z: int, rise: int, run: int, rising: bool, share: Fraction
) -> None:
    """In front of a rising wall (larger Z), behind a falling one (smaller Z); never a whole tick off."""
    turn = 1 if rising else -1
    piece = Piece(Kind.FEED, Point(x, z), Point(x + turn * rise, z - run), None, 1)
    up = int(rise * share)
    exact = z - Fraction(run * up, rise)
    off = piece.crossing(x + turn * up) - exact
    assert 0 <= off * turn < 1


@pytest.mark.parametrize("kind", [Kind.ARC_CW, Kind.ARC_CCW])
@pytest.mark.parametrize("quadrant", [0, 1, 2, 3])
@CALM
@given(x=PLACE, z=PLACE, radius=LENGTH, share=st.fractions(0, 1))
def test_a_crossing_of_an_arc_is_rounded_to_the_side_of_the_stock(
    kind: Kind, quadrant: int, x: int, z: int, radius: int, share: Fraction
) -> None:
    """On the circle to the tick: the exact Z is a square root, and one tick further lies on the other side of it."""
    corners = [(0, radius), (radius, 0), (0, -radius), (-radius, 0), (0, radius)]
    ends = [Point(x + dx, z + dz) for dx, dz in (corners[quadrant], corners[quadrant + 1])]
    start, end = ends if kind is Kind.ARC_CCW else ends[::-1]
    piece = Piece(kind, start, end, Point(x, z), 1)
    level = min(start.x, end.x) + int(radius * share)
    found = piece.crossing(level) - z
    rest = radius * radius - (level - x) ** 2
    sign = 1 if start.z + end.z > 2 * z else -1
    # Stock lies outward in Z of the exact place where the wall rises on the front half or falls on the back half.
    outward = (end.x > start.x) is (sign > 0)
    bound = isqrt(rest) + (outward and isqrt(rest) ** 2 != rest)
    assert found == sign * bound


def test_an_arc_is_cut_at_the_quadrants_it_passes() -> None:
    """A trough of radius 5: down to its bottom, then up."""
    segment = Segment(Kind.ARC_CW, Point(20 * MM, 0), Point(20 * MM, -10 * MM), 7, Point(20 * MM, -5 * MM))
    pieces = pieces_of_segment(segment)
    assert [(p.start, p.end) for p in pieces] == [
        (Point(20 * MM, 0), Point(15 * MM, -5 * MM)),
        (Point(15 * MM, -5 * MM), Point(20 * MM, -10 * MM)),
    ]
    assert {(p.kind, p.centre, p.block) for p in pieces} == {(Kind.ARC_CW, Point(20 * MM, -5 * MM), 7)}


def test_an_arc_that_begins_and_ends_at_quadrants_stays_whole() -> None:
    segment = Segment(Kind.ARC_CCW, Point(10 * MM, 0), Point(15 * MM, -5 * MM), 7, Point(10 * MM, -5 * MM))
    assert [(p.start, p.end) for p in pieces_of_segment(segment)] == [(segment.start, segment.end)]


def test_an_arc_back_to_its_start_is_a_whole_circle() -> None:
    segment = Segment(Kind.ARC_CCW, Point(10 * MM, 0), Point(10 * MM, 0), 7, Point(10 * MM, -5 * MM))
    assert len(pieces_of_segment(segment)) == 4
    assert profile_of((segment,)).turns_back


@CALM
@given(st.lists(st.tuples(st.integers(0, 50), st.integers(0, 50)), min_size=1, max_size=8), st.integers(0, 400))
def test_the_reach_of_a_level_is_where_the_profile_first_rises_above_it(
    steps: list[tuple[int, int]], level: int
) -> None:
    """Found again by looking at every whole Z of a stair of straight moves."""
    at, segments = Point(0, 0), []
    for rise, run in steps:
        for end in (Point(at.x, at.z - run), Point(at.x + rise, at.z - run)):
            segments.append(Segment(Kind.FEED, at, end, 1))
            at = end
    walls = [s.start.z for s in segments if s.end.x > level]
    assert profile_of(tuple(segments)).reaches((level,)) == (max(walls) if walls else at.z,)
