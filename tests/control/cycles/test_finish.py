"""Finishing follows the contour exactly as programmed."""

from __future__ import annotations

from hypothesis import given

from verifier.control.cycles import finish
from verifier.control.strokes import Contour, Kind, Point, Segment

from .shapes import CALM, MM, Rough, code_of, moves, roughs


@CALM
@given(roughs(rising_only=False))
def test_finishing_is_the_contour_s_own_moves_and_then_a_rapid_home(rough: Rough) -> None:
    strokes = moves(finish(rough.start, rough.contour))
    segments = rough.contour.segments
    assert [(s.kind, s.end, s.centre, s.block) for s in strokes[:-1]] == [
        (s.kind, s.end, s.centre, s.block) for s in segments
    ]
    home = strokes[-1]
    assert (home.kind, home.end, home.step, home.block) == (Kind.RAPID, rough.start, "return to start", None)


def test_a_full_circle_in_the_contour_is_not_lost() -> None:
    at = Point(10 * MM, 0)
    circle = Segment(Kind.ARC_CW, at, at, 5, Point(8 * MM, 0))
    assert [s.kind for s in moves(finish(at, Contour((circle,), False)))] == [Kind.ARC_CW]


def test_an_empty_contour_is_named() -> None:
    assert code_of(finish(Point(0, 0), Contour((), False))) == "contour-empty"


def test_a_contour_with_too_many_blocks_is_named() -> None:
    at = Point(0, 0)
    segments = tuple(Segment(Kind.FEED, at, at, n) for n in range(200_001))
    assert code_of(finish(at, Contour(segments, False))) == "too-many-strokes"
