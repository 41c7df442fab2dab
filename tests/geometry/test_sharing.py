"""A sweep that takes over what another found of the same moves gives what it gives alone, wherever and however often the programs differ."""

from __future__ import annotations

import itertools
from fractions import Fraction

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.geometry.parts import agree, exact, sheet, turning
from tests.geometry.test_fast_sweep import BLADE, ROUND, SHEET, blocks
from verifier.control import Trace, execute
from verifier.geometry import TurnedPart, sweep
from verifier.geometry.section import Box, Section, box_of
from verifier.geometry.sharing import partners
from verifier.geometry.spans import Spans
from verifier.machines import Setup, Stock, Tool, generic_lathe
from verifier.source import read_source
from verifier.syntax import parse

HEAD = "O1\nG21 G40 G99 G97 S500 M03\n"
HOLDER = [(Fraction(z), Fraction(x)) for z, x in ((2, 2), (30, 2), (30, 100), (12, 100), (12, 40), (2, 40))]
BORER = Tool(
    2, **exact(kind="boring", shape="C", edge_length=6, approach_angle=95, nose_radius="0.4", orientation=2),
    shank_diameter=Fraction(12), shank_axis=Fraction(6), reach=Fraction(60),
)  # fmt: skip
TUBE = Stock("tube", Fraction(60), Fraction(24), Fraction(100), Fraction(0))
SHEETS = (SHEET, sheet(turning(holder=tuple(HOLDER)), ROUND, BLADE), sheet(turning(), BORER, BLADE, stock=TUBE))


def _trace(body: str, setup: Setup) -> Trace:
    program = parse(read_source(f"{HEAD}{body}\nM30\n".encode(), "part.nc"))
    return execute(program, generic_lathe(), setup=setup)


@st.composite
def pairs(draw: st.DrawFn) -> tuple[str, str]:
    """A program of many moves and an edit of it: lines put in, taken out, or with another number, in one place or in several."""
    lines = "\n".join(draw(st.lists(blocks(), min_size=1, max_size=3))).split("\n")
    other = list(lines)
    for _ in range(draw(st.integers(1, 3))):
        at = draw(st.integers(0, len(other) - 1))
        kind = draw(st.sampled_from(("out", "in", "number", "number")))
        if kind == "out" and not other[at].startswith("T"):
            del other[at]
        elif kind == "in":
            other.insert(at, draw(st.sampled_from(("G01 X55. F0.2", "G01 Z-20. F0.2", "G00 X80. Z10."))))
        else:
            other[at] = other[at].replace(".000", draw(st.sampled_from((".001", ".300", "1.000"))), 1)
    return "\n".join(lines), "\n".join(other)


@pytest.mark.parametrize("setup", SHEETS)
@given(pair=pairs())
@settings(max_examples=15, deadline=None)
def test_beside_another_as_alone(setup: Setup, pair: tuple[str, str]) -> None:
    """Forth, and back beside the sweep that has itself taken over: marks and all."""
    machine = generic_lathe()
    one, two = (_trace(body, setup) for body in pair)
    first, alone = sweep(one, machine, setup), sweep(two, machine, setup)
    assert first is not None and alone is not None
    second = sweep(two, machine, setup, [first])
    assert second is not None
    agree(second.part, alone.part)
    third = sweep(one, machine, setup, [second])
    assert third is not None
    agree(third.part, first.part)


ROUGH = [f"G00 X{60 - 2 * k}.\nG01 Z-{60 - k}. F0.3\nX62.\nG00 Z2." for k in range(1, 12)]
FINISH = "T0303\nG00 X64. Z-80.\nG01 X40. F0.1\nX64.\nT0101\nG00 X30. Z2.\nG01 Z-40. F0.1\nG02 X40. Z-45. R5.\nG01 Z-62.\nX66."
GROOVES = [f"T0303\nG00 X64. Z-{z}.\nG01 X{x}. F0.1\nG00 X64." for z, x in ((20, 26), (30, 26), (55, 36))]


def _cuts(monkeypatch: pytest.MonkeyPatch, before: str, after: str) -> tuple[int, TurnedPart, TurnedPart]:
    """How many cuts the second sweep worked out for itself, with its part and the part that it finds alone."""
    machine, counted = generic_lathe(), [0]
    first = sweep(_trace(before, SHEET), machine, SHEET)
    alone = sweep(_trace(after, SHEET), machine, SHEET)
    assert first is not None and alone is not None
    cut = Section.cut

    def counting(self: Section, tool: shapely.Geometry, box: Box) -> object:
        counted[0] += 1
        return cut(self, tool, box)

    monkeypatch.setattr(Section, "cut", counting)
    second = sweep(_trace(after, SHEET), machine, SHEET, [first])
    assert second is not None
    return counted[0], second.part, alone.part


def test_behind_a_local_edit_only_what_it_reaches_is_swept_again(monkeypatch: pytest.MonkeyPatch) -> None:
    body = "\n".join((*ROUGH, FINISH, *GROOVES, *GROOVES[::-1]))
    program = "T0101\nG00 X70. Z2.\n" + body
    count, found, alone = _cuts(monkeypatch, program, program.replace("Z-80.\nG01 X40.", "Z-80.\nG01 X39."))
    agree(found, alone)
    assert count < 4 < np.count_nonzero(alone.area)


def test_what_a_finishing_pass_makes_equal_again_is_taken_over_from_there(monkeypatch: pytest.MonkeyPatch) -> None:
    program = "T0101\nG00 X70. Z2.\n" + "\n".join((*ROUGH, FINISH, *GROOVES * 12))
    other = program.replace("G00 X58.", "G00 X57.5", 1)
    count, found, alone = _cuts(monkeypatch, program, other)
    agree(found, alone)
    assert count < 45 < _cuts(monkeypatch, "T0101\nG00 X70. Z3.", other)[0]


def test_moves_are_partners_from_the_start_and_from_the_end() -> None:
    program = "T0101\nG00 X70. Z2.\n" + "\n".join(ROUGH)
    longer = program.replace("X62.", "X62.\nX63.", 1)
    one, two = _trace(program, SHEET), _trace(longer, SHEET)
    found = partners(two, one)
    assert len(found) == one.first_pass + 1
    assert found[:4].tolist() == [0, 1, 2, 3] and found[-1] == one.first_pass - 1
    kept = found[found >= 0]
    assert (np.diff(kept) > 0).all() and np.count_nonzero(found < 0) == 3


stretches = st.lists(st.tuples(st.integers(-20, 20), st.integers(0, 9)).map(lambda p: (p[0] / 2, (p[0] + p[1]) / 2)))


@given(given_=stretches, asked=st.integers(-42, 42), wide=st.integers(0, 6))
def test_stretches_touch_where_one_of_them_does(given_: list[tuple[float, float]], asked: int, wide: int) -> None:
    spans, low, high = Spans(given_), asked / 4, (asked + wide) / 4
    assert spans.touch(low, high) == any(a <= high and low <= b for a, b in given_)
    kept = list(spans)
    assert all(one[1] < other[0] for one, other in itertools.pairwise(kept))


@given(cuts=st.lists(st.tuples(st.integers(-90, -1), st.integers(1, 20), st.integers(1, 25)), min_size=1, max_size=12))
@settings(max_examples=30, deadline=None)
def test_half_sections_are_apart_where_they_differ_and_join_to_either(cuts: list[tuple[int, int, int]]) -> None:
    """Against the plain difference of the two."""
    bar = shapely.box(-100, 0, 0, 30)
    one, two = Section(bar), Section(bar)
    for k, (z, wide, deep) in enumerate(cuts):
        tool = shapely.box(z, 30 - deep, z + wide / 2, 40)
        for section in ((one, two), (one,), (two,))[k % 3]:
            section.cut(tool, box_of(tool))
    spans = one.apart(two, Spans([(-200.0, 100.0)]))
    for part in shapely.get_parts(shapely.symmetric_difference(one.whole(), two.whole())):
        if part.area > 1e-9:
            assert spans.touch(*shapely.bounds(part)[[0, 2]].tolist())
    assert shapely.symmetric_difference(one.with_part_of(two, spans).whole(), one.whole()).area < 1e-9
    assert shapely.symmetric_difference(one.with_part_of(two, Spans()).whole(), two.whole()).area < 1e-9
