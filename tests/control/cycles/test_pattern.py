"""The pattern repeated: the last pass is the contour at its allowance, the others lie evenly behind it."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from verifier.control.cycles import finish, pattern_repeat
from verifier.control.strokes import Contour, Expansion, Point

from .shapes import CALM, EXCHANGE, MIRROR_X, MIRROR_Z, MM, Look, Rough, code_of, moved, moves, roughs

STILL = moved(0, 0)
AMOUNT = st.integers(-(10**9), 10**9)
PASSES = st.integers(1, 12)


def repeated(rough: Rough, escape: Point, passes: int, look: Look = STILL, amounts: Look | None = None) -> Expansion:
    amounts = amounts or look
    away, allowance = amounts.place(escape), amounts.place(Point(rough.allowance_x, rough.allowance_z))
    start, contour = look.place(rough.start), look.contour(rough.contour)
    return pattern_repeat(start, contour, away.x, away.z, allowance.x, allowance.z, passes)


@CALM
@given(roughs(rising_only=False), AMOUNT, AMOUNT, PASSES)
def test_the_last_pass_is_the_finishing_path_moved_by_the_allowance(rough: Rough, x: int, z: int, passes: int) -> None:
    strokes = moves(repeated(rough, Point(x, z), passes))
    last = [s for s in strokes if s.step == f"pass {passes} of {passes}: contour"]
    look = moved(rough.allowance_x, rough.allowance_z)
    path = [look.stroke(s) for s in moves(finish(rough.start, rough.contour)) if s.step == "finish: contour"]
    assert [(s.kind, s.end, s.centre, s.block) for s in last] == [(s.kind, s.end, s.centre, s.block) for s in path]
    assert strokes[-1].end == rough.start


@CALM
@given(roughs(rising_only=False), AMOUNT, AMOUNT, st.integers(2, 12))
def test_passes_lie_evenly_to_the_tick(rough: Rough, x: int, z: int, passes: int) -> None:
    strokes = moves(repeated(rough, Point(x, z), passes))
    ends = [[s.end for s in strokes if s.step == f"pass {n} of {passes}: contour"][-1] for n in range(1, passes + 1)]
    assert ends[0].x - ends[-1].x == x and ends[0].z - ends[-1].z == z
    for n, end in enumerate(ends):
        assert abs((end.x - ends[-1].x) * (passes - 1) - x * (passes - 1 - n)) * 2 <= passes - 1
        assert abs((end.z - ends[-1].z) * (passes - 1) - z * (passes - 1 - n)) * 2 <= passes - 1


@CALM
@given(roughs(rising_only=False), AMOUNT, AMOUNT, PASSES, AMOUNT, AMOUNT)
def test_the_pattern_obeys_the_mirrors_and_the_translation(
    rough: Rough, x: int, z: int, passes: int, dx: int, dz: int
) -> None:
    away = Point(x, z)
    here = repeated(rough, away, passes)
    for look in (MIRROR_X, MIRROR_Z, EXCHANGE):
        assert repeated(rough, away, passes, look) == look.expansion(here)
    look = moved(dx, dz)
    assert repeated(rough, away, passes, look, amounts=STILL) == look.expansion(here)


def test_what_cannot_be_repeated_is_named() -> None:
    start = Point(30 * MM, 0)
    empty = Contour((), names_both_axes=False)
    assert code_of(pattern_repeat(start, empty, 0, 0, 0, 0, 3)) == "contour-empty"
    assert code_of(pattern_repeat(start, empty, 0, 0, 0, 0, 0)) == "passes-not-positive"


@CALM
@given(roughs())
def test_too_many_passes_are_named_without_expanding(rough: Rough) -> None:
    assert code_of(repeated(rough, Point(MM, MM), 10**12)) == "too-many-strokes"
