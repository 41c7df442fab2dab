"""Single passes: four moves, home again, and the mirrors."""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from verifier.control.cycles import facing_pass, thread_pass, turning_pass
from verifier.control.strokes import CycleFault, Kind, Point

from .shapes import CALM, EXCHANGE, MIRROR_X, MIRROR_Z, MM, code_of, moved, moves

PLACE = st.integers(-(10**10), 10**10)
POINTS = st.builds(Point, PLACE, PLACE)
TAPER = st.integers(-(10**9), 10**9)


@CALM
@given(POINTS, POINTS, TAPER)
def test_a_pass_obeys_the_mirrors_and_the_exchange(start: Point, end: Point, taper: int) -> None:
    here = turning_pass(start, end, taper)
    across, along, swapped = MIRROR_X.place, MIRROR_Z.place, EXCHANGE.place
    assert turning_pass(across(start), across(end), -taper) == MIRROR_X.expansion(here)
    assert turning_pass(along(start), along(end), taper) == MIRROR_Z.expansion(here)
    assert facing_pass(swapped(start), swapped(end), taper) == EXCHANGE.expansion(here)


@CALM
@given(POINTS, POINTS, TAPER)
def test_a_pass_comes_back_and_cuts_the_taper_it_was_told(start: Point, end: Point, taper: int) -> None:
    expansion = turning_pass(start, end, taper)
    assume(not isinstance(expansion, CycleFault))
    assume(start != end and start.z != end.z and taper)
    strokes = moves(expansion)
    assert strokes[-1].end == start
    at = [start, *(s.end for s in strokes)]
    cut = next(n for n, s in enumerate(strokes) if s.end == end)
    assert strokes[cut].kind is Kind.FEED
    assert at[cut].x - end.x == taper


@CALM
@given(POINTS, POINTS, TAPER, PLACE, PLACE)
def test_a_moved_pass_makes_the_moved_strokes(start: Point, end: Point, taper: int, dx: int, dz: int) -> None:
    look = moved(dx, dz)
    assert turning_pass(look.place(start), look.place(end), taper) == look.expansion(turning_pass(start, end, taper))
    there = thread_pass(look.place(start), look.place(end), taper, MM, 0)
    assert there == look.expansion(thread_pass(start, end, taper, MM, 0))


@CALM
@given(POINTS, POINTS, TAPER, st.integers(0, 10**9))
def test_a_thread_pass_obeys_the_mirrors(start: Point, end: Point, taper: int, pull_out: int) -> None:
    assume(start.x != end.x)
    here = thread_pass(start, end, taper, MM, pull_out)
    across, along = MIRROR_X.place, MIRROR_Z.place
    assert thread_pass(across(start), across(end), -taper, MM, pull_out) == MIRROR_X.expansion(here)
    assert thread_pass(along(start), along(end), taper, MM, pull_out) == MIRROR_Z.expansion(here)


def test_the_pull_out_of_a_taper_thread_begins_on_the_taper() -> None:
    """Length 40, taper -4, pull-out 10 before the end: a quarter of the taper is left there."""
    strokes = moves(thread_pass(Point(30 * MM, 10 * MM), Point(20 * MM, -30 * MM), -4 * MM, 2 * MM, 10 * MM))
    assert [(s.kind.name, s.end.x / MM, s.end.z / MM) for s in strokes] == [
        ("RAPID", 16.0, 10.0),
        ("THREAD", 19.0, -20.0),
        ("THREAD", 29.0, -30.0),
        ("RAPID", 30.0, -30.0),
        ("RAPID", 30.0, 10.0),
    ]


def test_the_pull_out_goes_no_further_than_the_start() -> None:
    strokes = moves(thread_pass(Point(11 * MM, 5 * MM), Point(9 * MM, -30 * MM), 0, 2 * MM, 3 * MM))
    assert [(s.step, s.end.x // MM, s.end.z // MM) for s in strokes] == [
        ("infeed", 9, 5),
        ("thread: cut", 9, -27),
        ("thread: pull-out", 11, -29),
        ("return to start", 11, 5),
    ]


@pytest.mark.parametrize(
    ("end", "lead", "pull_out", "code"),
    [
        (Point(9 * MM, 5 * MM), MM, 0, "thread-without-length"),
        (Point(9 * MM, 0), 0, 0, "lead-not-positive"),
        (Point(9 * MM, 0), MM, -1, "pull-out-negative"),
        (Point(9 * MM, 0), MM, 6 * MM, "pull-out-longer-than-thread"),
    ],
)
def test_a_thread_that_cannot_be_is_named(end: Point, lead: int, pull_out: int, code: str) -> None:
    assert code_of(thread_pass(Point(11 * MM, 5 * MM), end, 0, lead, pull_out)) == code


def test_a_turning_taper_that_begins_behind_the_start_is_named() -> None:
    assert code_of(turning_pass(Point(30 * MM, 0), Point(25 * MM, -10 * MM), 6 * MM)) == "taper-longer-than-travel"
    assert not isinstance(turning_pass(Point(30 * MM, 0), Point(25 * MM, -10 * MM), 5 * MM), CycleFault)
