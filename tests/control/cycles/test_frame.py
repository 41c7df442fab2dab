"""A frame shows a cycle in a mirror, and shows it back."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from verifier.control.cycles.frame import Frame
from verifier.control.strokes import Kind, Pause, Point, Stroke

from .shapes import CALM

FRAMES = [Frame(swapped, x, z) for swapped in (False, True) for x in (1, -1) for z in (1, -1)]
PLACE = st.integers(-(10**10), 10**10)


@pytest.mark.parametrize("frame", FRAMES)
@CALM
@given(x=PLACE, z=PLACE)
def test_a_point_seen_and_brought_back_is_the_same(frame: Frame, x: int, z: int) -> None:
    assert frame.real(frame.seen(Point(x, z))) == Point(x, z)
    assert frame.seen(frame.real(Point(x, z))) == Point(x, z)


@pytest.mark.parametrize("frame", FRAMES)
def test_the_sense_of_an_arc_follows_the_turn_of_three_points(frame: Frame) -> None:
    """Clockwise or not is the sign of the area of start, way point and end; +Z to the right, +X up."""
    start, way, end = Point(0, 10), Point(7, 7), Point(10, 0)

    def area(a: Point, b: Point, c: Point) -> int:
        return (b.z - a.z) * (c.x - a.x) - (c.z - a.z) * (b.x - a.x)

    assert area(start, way, end) > 0  # counter-clockwise
    seen = area(frame.seen(start), frame.seen(way), frame.seen(end))
    assert frame.kind(Kind.ARC_CCW) is (Kind.ARC_CCW if seen > 0 else Kind.ARC_CW)
    assert frame.kind(frame.kind(Kind.ARC_CW)) is Kind.ARC_CW
    assert frame.kind(Kind.THREAD) is Kind.THREAD


def test_strokes_come_back_with_their_centre_step_and_block() -> None:
    frame = Frame(True, -1, 1)
    pause = Pause(500, "dwell")
    stroke = Stroke(Kind.ARC_CW, Point(1, 2), "level 1 of 2: cut", Point(3, 4), 9)
    back = frame.real_strokes((stroke, pause))
    assert back == (Stroke(Kind.ARC_CW, Point(2, -1), "level 1 of 2: cut", Point(4, -3), 9), pause)
