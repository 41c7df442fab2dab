"""Pecking: every column reaches the bottom in pecks that are not too deep, and the tool comes home."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import ceil

import pytest
from hypothesis import given
from hypothesis import strategies as st

from verifier.control.cycles import STROKE_LIMIT, face_peck, groove
from verifier.control.strokes import CycleFault, Expansion, Kind, Point

from .shapes import CALM, EXCHANGE, MIRROR_X, MIRROR_Z, MM, Look, code_of, moved, moves


@dataclass(frozen=True)
class Groove:
    """The numbers of one groove, in ticks."""

    start: Point
    end: Point
    peck: int
    step: int
    relief: int
    retract: int

    def expanded(self, look: Look | None = None) -> Expansion:
        place = look.place if look else (lambda p: p)
        return groove(place(self.start), place(self.end), self.peck, self.step, self.relief, self.retract)


@st.composite
def grooves(draw: st.DrawFn) -> Groove:
    amount = st.integers(1, 500)
    start = Point(draw(st.integers(-5000, 5000)), draw(st.integers(-5000, 5000)))
    peck, step = draw(amount), draw(amount)
    depth, width = draw(st.integers(1, 12 * peck)), draw(st.integers(0, 12 * step))
    return Groove(
        start,
        Point(start.x - depth, start.z - width),
        peck,
        step,
        draw(st.integers(0, step)),
        draw(st.integers(0, peck)),
    )


@CALM
@given(grooves())
def test_every_column_is_cut_to_the_bottom_in_pecks_no_deeper_than_asked(job: Groove) -> None:
    deepest: dict[int, int] = {}
    at = job.start
    for stroke in moves(job.expanded()):
        if stroke.kind.cuts:
            assert stroke.end.z == at.z, "the tool feeds straight in, never sideways"
            before = deepest.get(at.z, job.start.x)
            assert 0 < before - stroke.end.x <= job.peck
            deepest[at.z] = stroke.end.x
        at = stroke.end
    columns = sorted(deepest, reverse=True)
    assert set(deepest.values()) == {job.end.x}
    assert columns[0] == job.start.z and columns[-1] == job.end.z
    assert len(columns) == 1 + ceil((job.start.z - job.end.z) / job.step)
    assert all(a - b == job.step for a, b in pairwise(columns[:-1]))


@CALM
@given(grooves())
def test_no_rapid_goes_deeper_than_has_been_cut_in_that_column(job: Groove) -> None:
    """Relief and retract lie in what a column before has opened; the step over is at the start's X."""
    at = job.start
    for stroke in moves(job.expanded()):
        if stroke.kind is Kind.RAPID:
            assert stroke.end.x >= at.x
            assert stroke.end.x == at.x == job.start.x or stroke.end.z >= at.z
        at = stroke.end


@CALM
@given(grooves())
def test_the_cycle_ends_at_its_start_and_never_goes_beyond_it(job: Groove) -> None:
    strokes = moves(job.expanded())
    assert strokes[-1].end == job.start
    assert all(job.end.x <= s.end.x <= job.start.x for s in strokes)


@CALM
@given(grooves())
def test_the_first_column_has_no_relief_and_every_other_has(job: Groove) -> None:
    strokes = moves(job.expanded())
    columns = 1 + ceil((job.start.z - job.end.z) / job.step)
    assert sum(s.step.endswith("relief") for s in strokes) == (columns - 1 if job.relief else 0)
    assert not any(s.step == f"column 1 of {columns}: relief" for s in strokes)


@CALM
@given(grooves(), st.integers(-(10**9), 10**9), st.integers(-(10**9), 10**9))
def test_a_groove_obeys_the_mirrors_the_exchange_and_the_translation(job: Groove, dx: int, dz: int) -> None:
    here = job.expanded()
    assert job.expanded(moved(dx, dz)) == moved(dx, dz).expansion(here)
    if job.end.x != job.start.x:
        assert job.expanded(MIRROR_X) == MIRROR_X.expansion(here)
    assert job.expanded(MIRROR_Z) == MIRROR_Z.expansion(here)
    start, end = EXCHANGE.place(job.start), EXCHANGE.place(job.end)
    assert face_peck(start, end, job.peck, job.step, job.relief, job.retract) == EXCHANGE.expansion(here)


@CALM
@given(grooves())
def test_the_number_of_strokes_stays_below_what_was_counted_before(job: Groove) -> None:
    pecks = ceil((job.start.x - job.end.x) / job.peck)
    columns = 1 + ceil((job.start.z - job.end.z) / job.step)
    assert len(moves(job.expanded())) <= columns * (2 * pecks + 2) + 1


def test_a_single_column_without_a_peck_is_one_stroke_in_and_one_out() -> None:
    strokes = moves(groove(Point(20 * MM, 0), Point(15 * MM, 0), None, None))
    assert [(s.kind, s.end, s.step) for s in strokes] == [
        (Kind.FEED, Point(15 * MM, 0), "peck 1 of 1"),
        (Kind.RAPID, Point(20 * MM, 0), "retract"),
    ]


def test_steps_of_a_single_column_are_told_in_shop_words() -> None:
    strokes = moves(face_peck(Point(0, 2 * MM), Point(0, -10 * MM), 5 * MM, None, 0, MM))
    assert [s.step for s in strokes] == [
        "peck 1 of 3",
        "peck 1 of 3: retract",
        "peck 2 of 3",
        "peck 2 of 3: retract",
        "peck 3 of 3",
        "retract",
    ]


START, END = Point(20 * MM, 0), Point(15 * MM, -10 * MM)


@pytest.mark.parametrize(
    ("end", "peck", "step", "relief", "retract", "code"),
    [
        (Point(20 * MM, -10 * MM), MM, MM, 0, 0, "peck-without-depth"),
        (END, 0, MM, 0, 0, "peck-not-positive"),
        (END, -MM, MM, 0, 0, "peck-not-positive"),
        (END, MM, None, 0, 0, "step-missing"),
        (END, MM, 0, 0, 0, "step-not-positive"),
        (END, MM, MM, -1, 0, "amount-negative"),
        (END, MM, MM, 0, -1, "amount-negative"),
    ],
)
def test_amounts_that_make_no_groove_are_named(
    end: Point, peck: int, step: int | None, relief: int, retract: int, code: str
) -> None:
    assert code_of(groove(START, end, peck, step, relief, retract)) == code


def test_a_step_of_nothing_is_no_fault_where_nothing_is_to_be_stepped() -> None:
    assert not isinstance(groove(START, Point(15 * MM, 0), MM, 0), CycleFault)


def test_a_peck_a_thousand_times_too_small_is_named_without_expanding() -> None:
    """5 mm deep, 10 mm wide; peck 2 mm and step 2.5 mm are fine, read as micrometres they are not."""
    assert len(moves(groove(START, END, 2 * MM, 5 * MM // 2))) <= STROKE_LIMIT
    assert code_of(groove(START, END, 2 * MM // 1000, 5 * MM // 2 // 1000)) == "too-many-strokes"
    assert code_of(groove(START, END, 1, 1)) == "too-many-strokes"
