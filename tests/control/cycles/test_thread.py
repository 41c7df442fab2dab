"""Threads: depths by the rule to the tick, passes that stay clear on the way back, and the mirrors."""

from __future__ import annotations

from dataclasses import astuple, dataclass, replace
from decimal import ROUND_HALF_EVEN, Decimal, localcontext
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from verifier.control.cycles import INFEEDS, PASS_LIMIT, multi_thread, thread_depths
from verifier.control.strokes import Expansion, Kind, Point, Stroke
from verifier.source import VerifierError

from .shapes import CALM, HUNDREDTH, MIRROR_X, MIRROR_Z, MM, Look, code_of, moved, moves

Amounts = tuple[int, int, int, int, int]


@st.composite
def amounts_of_a_thread(draw: st.DrawFn) -> Amounts:
    """Height, first depth, smallest depth, allowance and finishing passes; below a hundred passes or so."""
    height = draw(st.integers(20 * HUNDREDTH, 300 * HUNDREDTH))
    first = draw(st.integers(height // 9, height))
    minimum = draw(st.integers(0, first * 3 // 2))
    return height, first, minimum, draw(st.integers(0, height // 4)), draw(st.integers(1, 4))


AMOUNTS = amounts_of_a_thread()


@dataclass(frozen=True)
class Thread:
    """The numbers of one thread, in the order of the cycle's parameters."""

    start: Point
    end: Point
    taper: int
    height: int
    first: int
    minimum: int
    allowance: int
    finish_passes: int
    angle_tenths: int
    pull_out: int
    lead: int
    infeed: str
    equal: bool

    def expanded(self) -> Expansion:
        return multi_thread(*(getattr(self, name) for name in self.__dataclass_fields__))

    def under(self, look: Look, taper_sign: int = 1) -> Thread:
        return replace(self, start=look.place(self.start), end=look.place(self.end), taper=self.taper * taper_sign)


@st.composite
def threads(draw: st.DrawFn) -> Thread:
    height, first, minimum, allowance, finishes = draw(AMOUNTS)
    end = Point(draw(st.integers(-3000, 3000)) * HUNDREDTH, draw(st.integers(-3000, 3000)) * HUNDREDTH)
    length = draw(st.integers(1000, 5000)) * HUNDREDTH
    taper = draw(st.sampled_from([0, -1, 1])) * draw(st.integers(0, 60)) * HUNDREDTH
    clear = height + abs(taper) + draw(st.integers(10, 300)) * HUNDREDTH
    return Thread(
        start=Point(end.x + clear, end.z + length),
        end=end,
        taper=taper,
        height=height,
        first=first,
        minimum=minimum,
        allowance=allowance,
        finish_passes=finishes,
        angle_tenths=draw(st.sampled_from([0, 290, 300, 550, 600, 800])),
        pull_out=draw(st.integers(0, 400)) * HUNDREDTH,
        lead=draw(st.integers(20, 400)) * HUNDREDTH,
        infeed=draw(st.sampled_from(INFEEDS)),
        equal=draw(st.booleans()),
    )


def depths_by_decimals(height: int, first: int, minimum: int, allowance: int, finishes: int) -> list[int]:
    """The rule once more, with square roots to 60 digits instead of integers."""
    with localcontext() as context:
        context.prec = 60
        depth, number, found = Decimal(0), 0, []
        while height - allowance - depth > Decimal("1e-30"):
            number += 1
            grows = first * (Decimal(number).sqrt() - Decimal(number - 1).sqrt())
            depth += max(grows, Decimal(minimum))
            depth = min(depth, Decimal(height - allowance))
            found.append(int(depth.to_integral_value(ROUND_HALF_EVEN)))
        return found + [height] * finishes


@CALM
@given(AMOUNTS)
def test_depths_are_those_of_the_rule_computed_with_sixty_digits(amounts: Amounts) -> None:
    depths, expected = thread_depths(*amounts), depths_by_decimals(*amounts)
    assert len(depths) == len(expected)
    # A minimum added to a root that is rounded already may differ in the last tick.
    assert all(abs(a - b) <= 1 for a, b in zip(depths, expected, strict=True))


@CALM
@given(AMOUNTS)
def test_depths_only_grow_and_no_rough_increment_but_the_last_is_below_the_minimum(
    amounts: Amounts,
) -> None:
    height, _, minimum, allowance, finishes = amounts
    depths = thread_depths(*amounts)
    rough = depths[: len(depths) - finishes]
    increments = [b - a for a, b in pairwise((0, *rough))]
    assert all(i > 0 for i in increments)
    assert all(i >= minimum - 1 for i in increments[:-1])
    assert all(b <= a + 2 for a, b in pairwise(increments)), "passes never get heavier"
    assert rough[-1] == height - allowance
    assert depths[-finishes:] == (height,) * finishes


def passes(strokes: list[Stroke]) -> list[list[Stroke]]:
    """The strokes of each pass together, found by their steps."""
    found: dict[str, list[Stroke]] = {}
    for stroke in strokes:
        if " pass " in stroke.step:
            found.setdefault(stroke.step.split(":")[0], []).append(stroke)
    return list(found.values())


@CALM
@given(threads())
def test_every_pass_cuts_at_its_level_and_comes_back_clear_of_the_thread(job: Thread) -> None:
    depths = thread_depths(job.height, job.first, job.minimum, job.allowance, job.finish_passes, equal=job.equal)
    groups = passes(moves(job.expanded()))
    assert len(groups) == len(depths)
    for group, depth in zip(groups, depths, strict=True):
        infeed = next(s for s in group if s.step.endswith("infeed"))
        level = job.end.x + job.height - depth
        assert infeed.end.x == level + job.taper
        cut = [s for s in group if s.kind is Kind.THREAD]
        if job.pull_out == 0:
            assert [s.end for s in cut] == [Point(level, job.end.z)]
        else:
            assert cut[0].end.z == job.end.z + job.pull_out
            assert cut[1].end.x - cut[0].end.x == cut[0].end.z - cut[1].end.z, "45 degrees"
            assert cut[1].end.x <= job.start.x
        assert group[-1].end.x == job.start.x


@CALM
@given(threads())
def test_a_pass_goes_back_along_z_only_at_the_x_of_the_start(job: Thread) -> None:
    at = job.start
    strokes = moves(job.expanded())
    for stroke in strokes:
        if stroke.kind is Kind.RAPID and stroke.end.z != at.z:
            assert stroke.end.x == at.x == job.start.x
        at = stroke.end
    assert strokes[-1].end == job.start


@CALM
@given(threads())
def test_one_flank_keeps_its_place_when_the_tool_goes_in_along_it(job: Thread) -> None:
    """With the shift the flank on the side of the start lies on one line: z + depth * tan(half angle) is constant."""
    strokes = moves(replace(job, infeed="single-flank", angle_tenths=900, taper=0).expanded())
    begins = [s.end for s in strokes if s.step.endswith("infeed")]
    rough = begins[: len(begins) - job.finish_passes]
    # tan 45 degrees = 1: X and Z go in by the same amount.
    assert all(abs((p.z - rough[0].z) - (p.x - rough[0].x)) <= 2 for p in rough)
    assert all(p.z == job.start.z for p in begins[-job.finish_passes - 1 :])


@CALM
@given(threads())
def test_a_plunged_thread_begins_every_pass_at_the_start(job: Thread) -> None:
    for plunged in (replace(job, infeed="plunge"), replace(job, angle_tenths=0)):
        assert {s.end.z for s in moves(plunged.expanded()) if s.step.endswith("infeed")} == {job.start.z}


@CALM
@given(threads(), st.integers(-(10**9), 10**9), st.integers(-(10**9), 10**9))
def test_threads_obey_the_mirrors_and_the_translation(job: Thread, dx: int, dz: int) -> None:
    """An internal thread is the mirror of an external one, a left-to-right one the mirror of the other."""
    here = job.expanded()
    assert job.under(MIRROR_X, taper_sign=-1).expanded() == MIRROR_X.expansion(here)
    assert job.under(MIRROR_Z).expanded() == MIRROR_Z.expansion(here)
    assert job.under(moved(dx, dz)).expanded() == moved(dx, dz).expansion(here)


M20 = Thread(
    start=Point(13 * MM, 5 * MM),
    end=Point(8_466 * MM // 1000, -30 * MM),
    taper=0,
    height=1_534 * MM // 1000,
    first=400 * MM // 1000,
    minimum=100 * MM // 1000,
    allowance=50 * MM // 1000,
    finish_passes=2,
    angle_tenths=600,
    pull_out=0,
    lead=250 * HUNDREDTH,
    infeed="single-flank",
    equal=False,
)


def test_passes_are_told_in_shop_words() -> None:
    steps = [s.step for s in moves(M20.expanded())]
    assert steps[:4] == [
        "thread pass 1 of 11: to the start of the pass",
        "thread pass 1 of 11: infeed",
        "thread pass 1 of 11: cut",
        "thread pass 1 of 11: retract",
    ]
    assert "finish pass 1 of 2: cut" in steps
    assert steps[-1] == "return to start"


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"height": 0}, "thread-height-not-positive"),
        ({"first": 0}, "thread-depth-not-positive"),
        ({"minimum": -1}, "amount-negative"),
        ({"allowance": -1}, "amount-negative"),
        ({"allowance": 2 * MM}, "allowance-not-below-height"),
        ({"finish_passes": 0}, "finish-passes-not-positive"),
        ({"lead": 0}, "lead-not-positive"),
        ({"pull_out": -1}, "pull-out-negative"),
        ({"pull_out": 36 * MM}, "pull-out-longer-than-thread"),
        ({"angle_tenths": 1800}, "thread-angle-wrong"),
        ({"end": Point(8 * MM, 5 * MM)}, "thread-without-length"),
        ({"end": Point(13 * MM, -30 * MM)}, "thread-without-depth"),
        ({"first": 4 * MM // 10_000, "minimum": 0}, "too-many-strokes"),
        ({"first": 4 * MM // 10_000, "minimum": MM // 10_000}, "too-many-strokes"),
        ({"finish_passes": 10**9}, "too-many-strokes"),
    ],
)
def test_amounts_that_make_no_thread_are_named(change: dict[str, object], code: str) -> None:
    assert code_of(replace(M20, **change).expanded()) == code  # type: ignore[arg-type]


def test_depths_of_impossible_amounts_are_the_caller_s_error() -> None:
    with pytest.raises(VerifierError):
        thread_depths(MM, 0, 0, 0, 1)


def test_a_thread_stays_within_ten_thousand_strokes() -> None:
    """0.4 mm read in micrometres would take millions of passes; the longest thread allowed is still short."""
    longest = replace(M20, first=M20.height // 44, minimum=0, allowance=0, pull_out=MM)
    assert 1_900 < len(thread_depths(*astuple(longest)[3:8])) <= PASS_LIMIT
    assert len(moves(longest.expanded())) <= 10_000
