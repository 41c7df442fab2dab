"""Waiting for the spindle: in proportion to the change of speed, only where a cut needs it, less what a rapid covers."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import pytest

from tests.control.running import machine, run
from verifier.geometry import Times, times
from verifier.machines import Machine, generic_lathe

GENERIC = generic_lathe()
"""From rest to 4000 rev/min in 2 s: 0.5 ms for each rev/min. In proportion: elementary mechanics of an even torque."""
EACH = 2 / 4000


def timed(text: str, on: Machine = GENERIC) -> Times:
    """Without the wait at the program's end, which `test_standing` is about."""
    found, end = times(run(text, on), on), len(run(text, on).moves)
    return replace(found, waits=tuple(wait for wait in found.waits if wait.at < end))


def waits(text: str, on: Machine = GENERIC) -> list[tuple[int, float]]:
    return [(wait.block, wait.seconds) for wait in timed(text, on).waits]


def test_a_start_and_another_speed_are_waited_for_before_the_next_cut_and_only_there() -> None:
    text = (
        "G21 G99 G97 S500 M03\nG00 X50. Z5.\nG01 Z0. F.2\nZ-5.\nS1500\nG00 Z5.\nG01 Z-5.\nG00 Z5.\nG97 S200\nM05\nM30\n"
    )
    found = waits(text)
    assert found == [(2, pytest.approx(500 * EACH)), (6, pytest.approx(1000 * EACH))]


def test_another_speed_in_the_block_of_the_cut_is_waited_for_too() -> None:
    assert waits("G21 G99 G97 S500 M03\nG00 X50. Z5.\nG01 Z0. F.2\nZ-5. S700\nM30\n") == [
        (2, pytest.approx(500 * EACH)),
        (3, pytest.approx(200 * EACH)),
    ]


def test_turning_the_other_way_goes_through_rest() -> None:
    text = "G21 G99 G97 S500 M03\nG00 X50. Z5.\nG01 Z0. F.2\nM04\nG01 Z-5.\nM30\n"
    assert waits(text)[1] == (4, pytest.approx(1000 * EACH))


@pytest.mark.parametrize("between", ["M05\nM03\n", "M05\nG00 X60.\nM03\n"])
def test_a_stop_between_two_cuts_makes_a_start_of_the_next(between: str) -> None:
    text = f"G21 G99 G97 S500 M03\nG00 X50. Z5.\nG01 Z0. F.2\n{between}G01 Z-5.\nM30\n"
    assert [seconds for _, seconds in waits(text)] == pytest.approx([500 * EACH] * 2)


def test_a_start_with_nothing_cut_behind_it_is_not_waited_for() -> None:
    assert waits("G21 G97 S500 M03\nG00 X50. Z5.\nM05\nM30\n") == []


def test_under_constant_surface_speed_the_way_to_the_next_diameter_covers_its_run_up() -> None:
    """200 m/min: 636.6 rev/min at 100 mm, 1591.5 at 40 mm; 955 rev/min more take 0.477 s. The rapid over 30 mm of radius takes 0.23 s there."""
    text = "G21 G99 G50 S3000\nG96 S200 M03\nG00 X100. Z5.\nG01 Z0. F.2\nG00 X40.\nG01 Z-5.\nG00 X100.\nM30\n"
    found = timed(text)
    rapid = 30 / 200 + 200 / 2500
    more = 1000 * 200 / (pi * 40) - 1000 * 200 / (pi * 100)
    assert [w.block for w in found.waits] == [3, 5]
    assert found.moves[2] == pytest.approx(rapid)
    assert found.waits[0].seconds == pytest.approx(1000 * 200 / (pi * 100) * EACH)
    assert found.waits[1].seconds == pytest.approx(more * EACH - rapid)
    assert any("cover the run-up" in line for line in found.assumptions)


def test_a_rapid_that_is_long_enough_leaves_nothing_to_wait_for() -> None:
    text = "G21 G99 G50 S3000\nG96 S200 M03\nG00 X100. Z5.\nG01 Z0. F.2\nG00 Z200.\nX98. Z0.\nG01 Z-5.\nM30\n"
    assert [block for block, _ in waits(text)] == [3]


def test_a_cut_that_goes_on_from_the_one_before_never_waits() -> None:
    text = "G21 G99 G50 S3000\nG96 S200 M03\nG00 X100. Z5.\nG01 Z0. F.2\nX20.\nX90. Z-30.\nG02 X100. Z-35. R5.\nM30\n"
    assert [block for block, _ in waits(text)] == [3]


def test_a_machine_whose_cuts_do_not_wait_counts_no_run_up_and_says_so() -> None:
    on = machine({"cut-waits-for-speed": "no"})
    found = timed("G21 G99 G97 S500 M03\nG00 X50. Z5.\nG01 Z0. F.2\nM30\n", on)
    assert found.waits == ()
    assert "a cut does not wait for the spindle: no run-up is counted" in found.assumptions
    assert any("cut-waits-for-speed" in line for line in found.assumptions if line.startswith("nobody verified"))


def test_a_speed_that_only_the_machine_knows_is_named_and_takes_no_time() -> None:
    found = timed("G21 G98 G97 S#500 M03\nG00 X50. Z5.\nG01 Z0. F100.\nM30\n")
    assert found.waits == ()
    assert found.uncounted[-1].reason == "a wait for a spindle speed that is known only to the machine"
    assert found.uncounted[-1].block == 2


def test_a_called_program_waits_where_it_cuts() -> None:
    text = "G21 G99 G97 S500 M03\nG00 X50. Z5.\nM98 P1000 L2\nM30\nO1000\nS500\nG01 W-1. F.2\nS900\nG01 W-1.\nM99\n"
    assert [seconds for _, seconds in waits(text)] == pytest.approx([500 * EACH, 400 * EACH, 400 * EACH, 400 * EACH])


def test_only_the_first_pass_waits() -> None:
    once = timed("G21 G99 G97 S500 M03\nG00 X50. Z5.\nG01 Z0. F.2\nM05\nM30\n")
    often = timed("G21 G99 G97 S500 M03\nG00 X50. Z5.\nG01 Z0. F.2\nM05\nM99\n")
    assert often.waits == once.waits
    assert often.total == pytest.approx(once.total - 500 * EACH), "only at an end does it wait until the spindle stands"
