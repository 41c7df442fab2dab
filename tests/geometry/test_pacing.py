"""Speeding up and slowing down of cuts: closed forms and quadrature of elementary mechanics, and laws that hold for every program."""

from __future__ import annotations

import itertools
from dataclasses import replace
from fractions import Fraction
from math import fsum, hypot, inf, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.integrate import fixed_quad

from tests.control.running import at_once, machine, run
from verifier.control import Kind, Trace
from verifier.geometry import times
from verifier.geometry.pacing import CORNER, Row, row_seconds
from verifier.geometry.travel import slides
from verifier.machines import FrozenMap, Machine, generic_lathe

GENERIC = generic_lathe()
HEAD = "G21 G98 G97 S500 M03 {mode}\nG00 X50. Z0.\n"


def slow(acceleration: int = 100, rapid: int = 30_000) -> Machine:
    """Slides that take their time, mm/s2 and mm/min; a spindle that takes none."""
    axes = {
        letter: replace(axis, acceleration=Fraction(acceleration), rapid=Fraction(rapid))
        for letter, axis in GENERIC.axes.items()
    }
    return machine(axes=FrozenMap(axes), spindle=replace(GENERIC.spindle, start_seconds=Fraction(0)))


def cuts(body: str, on: Machine, mode: str = "G64") -> list[float]:
    trace = run(HEAD.format(mode=mode) + body + "\nM30\n", on)
    found = times(trace, on)
    return [float(found.moves[k]) for k, row in enumerate(trace.rows()) if row.kind is not Kind.RAPID]


@pytest.mark.parametrize("mode", ["G61", "G64"])
def test_a_single_cut_goes_from_rest_to_rest(mode: str) -> None:
    """L / v + v / a where the speed is reached, else 2 sqrt(L / a): elementary mechanics."""
    assert cuts("G01 Z-100. F3000.", slow(), mode) == pytest.approx([100 / 50 + 50 / 100])
    assert cuts("G01 Z-4. F3000.", slow(), mode) == pytest.approx([2 * sqrt(4 / 100)])


def test_exact_stop_rests_at_every_corner_and_path_mode_only_at_the_ends_of_a_line() -> None:
    body = "G01 Z-50. F3000.\nZ-100."
    assert cuts(body, slow(), "G61") == pytest.approx([50 / 50 + 50 / 100] * 2)
    assert cuts(body, slow(), "G64") == pytest.approx([50 / 50 + 25 / 100] * 2)


def test_another_feed_on_a_line_is_reached_before_the_slower_stretch_and_behind_it() -> None:
    """From 50 to 20 mm/s at 100 mm/s2 the way loses (50 - 20)^2 / (2 * 100 * 50) s against 50 mm/s all along."""
    fast, less, again = cuts("G01 Z-50. F3000.\nZ-100. F1200.\nZ-150. F3000.", slow())
    assert fast == pytest.approx(50 / 50 + 50 / 200 + 30**2 / (2 * 100 * 50))
    assert less == pytest.approx(50 / 20)
    assert again == pytest.approx(fast)


def test_a_square_corner_is_taken_at_the_speed_that_leaves_it_by_a_hundredth() -> None:
    """Both slides change their speed by v: v^2 / (8 a) = 0.01 mm gives v = sqrt(8 * 100 * 0.01) mm/s."""
    corner = sqrt(8 * 100 * CORNER)
    lost = 50 / 200 + (50 - corner) ** 2 / (2 * 100 * 50)
    assert cuts("G01 Z-50. F3000.\nX150.", slow()) == pytest.approx([50 / 50 + lost] * 2)


def test_a_slow_feed_goes_round_a_corner_without_slowing_down() -> None:
    """At 120 mm/min = 2 mm/s: less than the corner's 2.83 mm/s."""
    assert cuts("G01 Z-50. F120.\nX150.", slow()) == pytest.approx([50 / 2 + 2 / 200] * 2)


def test_a_tangent_arc_costs_nothing_beside_its_way() -> None:
    """A quarter of 20 mm between two straight lines that touch it, all at 30 mm/s."""
    found = cuts("G01 Z-50. F1800.\nG02 X90. Z-70. R20.\nG01 X120.", slow())
    naive = [50 / 30, 20 * 3.14159265358979 / 2 / 30, 15 / 30]
    assert found == pytest.approx([naive[0] + 30 / 200, naive[1], naive[2] + 30 / 200], rel=1e-6)


def test_an_arc_is_no_faster_than_the_slides_can_draw_it() -> None:
    """Round a radius of 1 mm at 100 mm/s2: v^2 / r = a gives 10 mm/s."""
    alone = cuts("G02 X52. Z-1. R1. F3000.", slow())
    assert alone == pytest.approx([3.14159265358979 / 2 / 10 + 10 / 100])


@pytest.mark.parametrize("between", ["G00 U2.", "G04 P100", "M08", "M01"])
def test_the_way_rests_where_something_stands_between_two_cuts(between: str) -> None:
    first = cuts(f"G01 Z-50. F3000.\n{between}\nG01 Z-100.", slow())
    assert first == pytest.approx([50 / 50 + 50 / 100] * 2)


def test_a_variable_between_two_cuts_does_not_stop_them() -> None:
    assert cuts("G01 Z-50. F3000.\n#500=1.\nZ-100.", slow()) == pytest.approx([50 / 50 + 25 / 100] * 2)


def test_a_thread_pass_follows_the_spindle() -> None:
    """30 mm at a lead of 1.5 and 500 rev/min: 20 turns, whatever the slides."""
    assert cuts("G32 Z-30. F1.5", slow(10)) == pytest.approx([20 / 500 * 60])


# -- quadrature ---------------------------------------------------------------------------------------------------------

STRETCHES = st.lists(st.tuples(st.integers(1, 4000), st.integers(1, 60), st.booleans()), min_size=1, max_size=8)
Limits = list[tuple[float, float]]
"""Places along the way with the square of the speed that they allow."""


@given(STRETCHES, st.sampled_from([20, 150, 2500]))
@settings(max_examples=60, deadline=None)
def test_time_along_a_line_is_the_integral_of_ds_over_v(rows: list[tuple[int, int, bool]], acceleration: int) -> None:
    """Another way than the code: v(s)^2 is the lowest of the feed's and of L + 2 a |s - p| over every place p with a limit L; scipy's quadrature
    of ds / v. A turn back is a corner at which the slide changes its speed by twice the speed: v = sqrt(8 a 0.01) / 2.
    """
    lines, z, sense, way = [], 0, -1, 0
    limits: Limits = [(0.0, 0.0)]
    stretches: list[tuple[float, float, float]] = []
    for k, (length, feed, turns) in enumerate(rows):
        if k:
            corner = sqrt(8 * acceleration * CORNER) / 2 if turns else inf
            sense = -sense if turns else sense
            limits.append((way / 100, min(feed, rows[k - 1][1], corner) ** 2))
        z += sense * length
        lines.append(f"G01 Z{z / 100:.2f} F{feed * 60}.")
        stretches.append((way / 100, (way + length) / 100, float(feed)))
        way += length
    limits.append((way / 100, 0.0))
    expected = fsum(integrated(*stretch, limits, acceleration) for stretch in stretches)
    assert fsum(cuts("\n".join(lines), slow(acceleration))) == pytest.approx(expected, rel=2e-6)


def integrated(first: float, last: float, feed: float, limits: Limits, a: float) -> float:
    """The integral of ds / v from one place to another, in pieces in which one limit holds; s = p + t^2 takes the root out of a rest at p."""
    place, square = np.array(limits).T

    def pace(s: NDArray[np.float64]) -> NDArray[np.float64]:
        lowest = (square[:, None] + 2 * a * np.abs(s - place[:, None])).min(axis=0)
        return np.sqrt(np.minimum(lowest, feed * feed))

    reach = (feed * feed - square) / (2 * a)
    middles = (place[:, None] + place) / 2 + (square - square[:, None]) / (4 * a)
    inner = np.concatenate((place, place + reach, place - reach, middles.ravel()))
    edges = np.unique([first, last, *inner[(inner > first) & (inner < last)]])
    whole = 0.0
    for low, high in itertools.pairwise(edges.tolist()):
        if high - low > 1e-9:
            root = sqrt((high - low) / 2)
            whole += fixed_quad(lambda t, p=low: 2 * t / pace(p + t * t), 0, root, n=50)[0]
            whole += fixed_quad(lambda t, p=high: 2 * t / pace(p - t * t), 0, root, n=50)[0]
    return whole


# -- laws ---------------------------------------------------------------------------------------------------------------

FEEDS = st.sampled_from(["G97 S700 G99 F.3", "G96 S150 G99 F.2", "G98 F3000.", "G98 F9000.", "G61 G98 F2000.", "G64"])
PLACE = st.tuples(st.integers(10, 90), st.integers(-50, 50))
STEPS = st.lists(st.tuples(st.sampled_from(["G00", "G01", "G02", "G03"]), PLACE, FEEDS), min_size=1, max_size=10)


def written(steps: list[tuple[str, tuple[int, int], str]], mode: str = "") -> str:
    lines = [f"G21 M03 G50 S3000 G97 S700 G99 F.2 {mode}", "G00 X50. Z5."]
    x0, z0 = 50, 5
    for code, (x, z), words in steps:
        arc = ""
        if code in ("G02", "G03"):
            chord = hypot((x - x0) / 2, z - z0)
            arc = f" R{chord * 0.6 + 0.5:.3f}" if chord else ""
        lines += [words, f"{'G01' if code in ('G02', 'G03') and not arc else code} X{x}. Z{z}.{arc}"]
        x0, z0 = x, z
    return "\n".join([*lines, "M30", ""])


def total(text: str, on: Machine) -> float:
    return times(run(text, on), on).total


@given(STEPS, st.sampled_from(["straight", "each-axis"]), st.integers(20, 4000), st.integers(100, 20_000))
@settings(max_examples=80, deadline=None)
def test_a_higher_rapid_or_acceleration_never_lengthens(
    steps: list[tuple[str, tuple[int, int], str]], path: str, acceleration: int, rapid: int
) -> None:
    def on(a: Fraction, r: Fraction) -> Machine:
        axes = {letter: replace(axis, acceleration=a, rapid=r) for letter, axis in GENERIC.axes.items()}
        return machine({"rapid-path": path}, axes=FrozenMap(axes))

    text = written(steps)
    a, r = Fraction(acceleration), Fraction(rapid)
    first = total(text, on(a, r))
    for more in (Fraction(101, 100), Fraction(3)):
        # Under constant surface speed the feed changes along a move; there the closed form is good to a millionth of the whole.
        assert total(text, on(a * more, r)) <= first * (1 + 1e-6)
        assert total(text, on(a, r * more)) <= first * (1 + 1e-6)


@given(STEPS, st.integers(20, 4000))
@settings(max_examples=60, deadline=None)
def test_never_faster_than_the_feed_nor_slower_than_with_a_stop_at_every_corner(
    steps: list[tuple[str, tuple[int, int], str]], acceleration: int
) -> None:
    on = slow(acceleration)
    plain = [(code, place, words.replace("G61 ", "").replace("G64", "F2000.")) for code, place, words in steps]
    path, exact = (run(written(plain, mode), on) for mode in ("G64", "G61"))
    found = times(path, on)
    assert (found.moves >= times(path, at_once(on)).moves - 1e-9).all()
    assert {state.path_mode for state in exact.states} == {"exact-stop"}
    assert found.total <= times(exact, on).total + 1e-9


@given(PLACE, PLACE, st.lists(st.integers(1, 99), max_size=4), st.sampled_from(["G97 S900 G99 F.4", "G98 F6000."]))
@settings(max_examples=60, deadline=None)
def test_a_straight_cut_takes_as_long_in_pieces_with_slow_slides(
    start: tuple[int, int], end: tuple[int, int], places: list[int], mode: str
) -> None:
    on = slow(30)
    head = f"G21 M03 {mode} G64\nG00 X{start[0]}. Z{start[1]}.\nG01 "
    points = [[a * 100 + (b - a) * k for a, b in zip(start, end, strict=True)] for k in [*sorted(set(places)), 100]]
    split = "\n".join(f"X{x / 100:.2f} Z{z / 100:.2f}" for x, z in points)

    def seconds(text: str) -> float:
        trace: Trace = run(f"{head}{text}\nM30\n", on)
        return fsum(times(trace, on).moves[1:].tolist())

    assert seconds(split) == pytest.approx(seconds(f"X{end[0]}. Z{end[1]}."), rel=1e-6, abs=1e-9)


def test_hundreds_of_thousands_of_cuts_in_a_row_lose_nothing_to_rounding() -> None:
    """200,000 stretches of 0.1 mm along one line are one line: 400 s at 50 mm/s, speeding up and slowing down once."""
    count = 200_000
    each = np.ones(count)
    row = Row(
        0.1 * each, 0.002 * each, 50 * each, 50 * each, 100 * each, np.tile([0.0, -1.0], (count, 2)), each[1:] > 0
    )
    found = row_seconds(row, slides(slow()))
    assert fsum(found.tolist()) == pytest.approx(20_000 / 50 + 50 / 100, rel=1e-9)
    assert found.max() < 0.1
