"""Waiting for the spindle's marker before thread passes, for its standstill before a tool change, an open chuck and the end: closed forms."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from math import pi
from pathlib import Path

import pytest

from tests.control.running import machine, run
from verifier.control import Kind
from verifier.geometry import SpindleWait, Times, times
from verifier.machines import Machine, generic_lathe, load_machine

GENERIC = generic_lathe()
"""From rest to 4000 rev/min in 2 s."""
EACH = 2 / 4000


def braking(seconds: int) -> Machine:
    """A lathe that takes so long from its greatest speed to rest."""
    return machine(spindle=replace(GENERIC.spindle, stop_seconds=Fraction(seconds)))


def timed(text: str, on: Machine = GENERIC) -> Times:
    return times(run(text, on), on)


def waits_before(text: str, on: Machine, *, threads: bool) -> list[SpindleWait]:
    trace = run(text, on)
    kinds = trace.moves.kind.tolist()
    return [w for w in times(trace, on).waits if (w.at < len(kinds) and kinds[w.at] == Kind.THREAD) == threads]


# -- the marker ---------------------------------------------------------------------------------------------------------

HEAD = "G21 G99 G97 S500 M03\nG00 X50. Z5.\n"


def test_each_pass_waits_half_a_turn() -> None:
    """500 rev/min: a turn takes 0.12 s, and the mean of 0 and 0.12 is 0.06 s. The first pass waits for the run-up of 0.25 s besides."""
    text = HEAD + "X30.\nG32 Z-20. F2.\nG00 X50.\nZ5.\nX29.5\nG32 Z-20. F2.\nG00 X50.\nM30\n"
    found = [wait.seconds for wait in waits_before(text, GENERIC, threads=True)]
    assert sorted(found) == pytest.approx([0.06, 0.06, 500 * EACH])
    none = timed(text.replace("G32", "G01"))
    feeds = 2 * 25 / (500 * 2 / 60)
    assert timed(text).total - sum(timed(text).moves[k] for k in (2, 6)) == pytest.approx(
        none.total - sum(none.moves[k] for k in (2, 6)) + 0.12
    )
    assert sum(timed(text).moves[k] for k in (2, 6)) == pytest.approx(feeds)


def test_passes_that_go_on_from_one_another_start_once() -> None:
    text = HEAD + "X30.\nG32 Z-10. F2.\nX32. Z-20.\nZ-30. F2.5\nG00 X50.\nM30\n"
    assert sorted(w.seconds for w in waits_before(text, GENERIC, threads=True)) == pytest.approx([0.06, 500 * EACH])


def test_a_cycle_waits_once_for_each_of_its_passes() -> None:
    """G92 with three depths: three passes, however its pull-out is drawn."""
    text = HEAD + "G92 X29. Z-20. F2.\nX28.5\nX28.\nG00 X50.\nM30\n"
    found = waits_before(text, GENERIC, threads=True)
    assert sum(w.seconds == pytest.approx(0.06) for w in found) == 3


def test_under_constant_surface_speed_the_turn_is_that_of_the_diameter() -> None:
    """100 m/min on 40 mm: 795.8 rev/min, half a turn in 30 / 795.8 s."""
    text = "G21 G99 G50 S3000\nG96 S100 M03\nG00 X40. Z5.\nG01 Z4. F.2\nG32 Z-20. F2.\nG00 X50.\nM30\n"
    (found,) = waits_before(text, GENERIC, threads=True)
    assert found.seconds == pytest.approx(30 / (1000 * 100 / (pi * 40)))


def test_a_speed_that_only_the_machine_knows_is_named() -> None:
    found = timed("G21 G99 G97 S#500 M03\nG00 X50. Z5.\nG32 Z-20. F2.\nM30\n")
    assert any(
        entry.reason == "a wait for a spindle speed that is known only to the machine" for entry in found.uncounted
    )


def test_the_estimate_says_what_it_counts() -> None:
    threads = timed(HEAD + "G32 Z-20. F2.\nM30\n").assumptions
    assert any("half a turn is counted before each" in line and "no source" in line for line in threads)
    assert not any("marker" in line for line in timed(HEAD + "G01 Z-20. F.2\nM30\n").assumptions)


# -- the stop -----------------------------------------------------------------------------------------------------------

CHANGE = "G21 G99 T0101\nG97 S1000 M03\nG00 X50. Z5.\nG01 Z0. F.2\n{between}T0202\nM30\n"


@pytest.mark.parametrize(("on", "each"), [(GENERIC, EACH), (braking(6), 6 / 4000), (braking(0), 0.0)])
def test_a_tool_change_behind_a_stop_waits_until_the_spindle_stands(on: Machine, each: float) -> None:
    """1000 rev/min lose 1000 / 4000 of the time from the greatest speed to rest; without one in the profile, of that from rest to it."""
    found = waits_before(CHANGE.format(between="M05\n"), on, threads=False)
    assert [w.seconds for w in found if w.block == 5] == pytest.approx([1000 * each] if each else [])
    trace = run(CHANGE.format(between="M05\n"), on)
    assert all(w.at == len(trace.moves) for w in found if w.block == 5)


def test_a_tool_change_with_the_spindle_turning_waits_for_nothing() -> None:
    assert [w.block for w in timed(CHANGE.format(between="")).waits] == [3, 5], "before the cut, and at the end"


def test_the_way_home_behind_the_stop_covers_what_it_can() -> None:
    """A rapid over 100 mm along Z with the generic lathe's 16 m/min and 2.5 m/s2: L / v + v / a, of the 6 / 4 s."""
    text = CHANGE.format(between="M05\nG00 Z100.\n")
    rapid = 100 / (16_000 / 60) + (16_000 / 60) / 2500
    assert timed(text, braking(6)).moves[2] == pytest.approx(rapid)
    assert [w.seconds for w in timed(text, braking(6)).waits if w.block == 6] == pytest.approx([1.5 - rapid])
    assert [w.block for w in timed(text.replace("Z100.", "Z700."), braking(6)).waits] == [3]


def test_at_a_diameter_that_only_the_machine_knows_the_last_known_speed_counts() -> None:
    """100 m/min on 50 mm: 636.6 rev/min."""
    text = "G21 G99 T0101\nG50 S3000\nG96 S100 M03\nG00 X50. Z5.\nG01 Z0. F.2\nG28 U0. W0.\nM05\nT0202\nM30\n"
    assert [w.seconds for w in timed(text).waits if w.block == 7] == pytest.approx([1000 * 100 / (pi * 50) * EACH])


def test_the_other_way_round_goes_down_and_up_again() -> None:
    """From 500 to rest at 6 s for 4000, and to 500 the other way at 2 s for 4000; from 500 down to 200 at the former."""
    text = HEAD + "G01 Z0. F.2\nM04\nG01 Z-5.\nS200\nG01 Z-6.\nM30\n"
    assert [w.seconds for w in timed(text, braking(6)).waits] == pytest.approx(
        [500 * EACH, 500 * 6 / 4000 + 500 * EACH, 300 * 6 / 4000, 200 * 6 / 4000]
    )


END = "G21 G99 T0101\nG97 S1000 M03\nG00 X50. Z5.\nG01 Z0. F.2\n{stop}M30\n"


@pytest.mark.parametrize("stop", ["M05\n", ""])
def test_the_end_of_the_program_waits_until_the_spindle_stands(stop: str) -> None:
    """By hand: 1000 of 4000 rev/min are a quarter of the 6 s from the greatest speed to rest, 1.5 s, whether M05 or the end stops the spindle."""
    at_end = [w for w in timed(END.format(stop=stop), braking(6)).waits if w.block == (5 if stop else 4)]
    assert [w.seconds for w in at_end] == pytest.approx([1.5])
    whole, plain = (timed(END.format(stop=stop), braking(seconds)).total for seconds in (6, 0))
    assert whole - plain == pytest.approx(1.5)


def test_the_way_home_covers_some_of_the_wait_at_the_end() -> None:
    """As before a change: the rapid over 100 mm takes L / v + v / a of the 1.5 s."""
    rapid = 100 / (16_000 / 60) + (16_000 / 60) / 2500
    found = timed(END.format(stop="M05\nG00 Z100.\n"), braking(6)).waits
    assert [w.seconds for w in found if w.block == 6] == pytest.approx([1.5 - rapid])


def test_a_chuck_opens_when_the_spindle_stands_and_the_end_does_not_wait_again() -> None:
    """The north lathe: 4500 rev/min in 1.8 s and as long to rest, so that 900 rev/min take 900 / 4500 * 1.8 = 0.36 s, before M10."""
    north = load_machine(Path(__file__).parents[2] / "fixtures" / "shop" / "machines" / "north-lathe.toml")
    text = "G21 G99 G97 S900 M03\nG00 X50. Z5.\nG01 Z0. F.2\nM05\nM10\nM30\n"
    assert [(w.block, w.seconds) for w in timed(text, north).waits][1:] == [(4, pytest.approx(0.36))]
    assert [w.block for w in timed(text.replace("M10\n", ""), north).waits][1:] == [4], "then it is the end that waits"


def test_a_program_that_repeats_has_no_end_to_wait_at() -> None:
    assert [w.block for w in timed(END.format(stop="M05\n").replace("M30", "M99"), braking(6)).waits] == [3]


def test_a_second_change_behind_the_same_stop_does_not_wait_again() -> None:
    text = CHANGE.format(between="M05\n").replace("M30", "T0303\nM30")
    assert [w.block for w in timed(text).waits] == [3, 5]


def test_what_is_counted_is_said() -> None:
    told = timed(CHANGE.format(between="M05\n")).assumptions
    assert "the spindle slows down as fast as it speeds up: the machine profile says no more" in told
    assert any("wait until the spindle stands (common practice, no source)" in line for line in told)
    given = timed(CHANGE.format(between="M05\n"), braking(6)).assumptions
    assert "the spindle takes 6 s from 4000 rev/min to rest" in given
    turning = timed(CHANGE.format(between="").replace("M30", "M99")).assumptions
    assert not any("until the spindle stands" in line for line in turning)
