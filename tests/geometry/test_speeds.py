"""The mean of one revolution's time along lines and arcs: closed forms against sums over many small steps."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from math import pi

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.control.running import MM, run, state_of
from verifier.geometry import spindle_speed
from verifier.geometry.speeds import SpeedLaw
from verifier.machines import generic_lathe

LIMITS = st.floats(50, 6000)
SPEEDS = st.floats(5, 800)
RADII = st.floats(-120, 120)
STEPS = 200_000


def summed(law: SpeedLaw, radius: np.ndarray) -> float:
    """The mean of 1 / n over radii taken at the middle of equal steps, by the definition n = min(limit, 1000 v / (2 pi |r|))."""
    assert law.surface is not None
    with np.errstate(divide="ignore", over="ignore"):
        rpm = np.minimum(law.limit, 1000 * law.surface / (2 * pi * np.abs(radius)))
    return float(np.mean(1 / rpm))


def one(*values: float) -> list[np.ndarray]:
    return [np.array([value]) for value in values]


@given(LIMITS, SPEEDS, RADII, RADII)
@settings(max_examples=60, deadline=None)
def test_lines_agree_with_a_sum_of_small_steps(limit: float, surface: float, r0: float, r1: float) -> None:
    law = SpeedLaw(limit, surface, True)
    radius = r0 + (r1 - r0) * (np.arange(STEPS) + 0.5) / STEPS
    assert law.along_line(*one(r0, r1))[0] == pytest.approx(summed(law, radius), rel=1e-5)


@given(LIMITS, SPEEDS, RADII, st.floats(0.5, 80), st.floats(-pi, pi), st.floats(0.05, 2 * pi), st.booleans())
@settings(max_examples=60, deadline=None)
def test_arcs_agree_with_a_sum_of_small_steps(
    limit: float, surface: float, centre: float, size: float, first: float, sweep: float, back: bool
) -> None:
    law = SpeedLaw(limit, surface, True)
    sweep = -sweep if back else sweep
    radius = centre + size * np.cos(first + sweep * (np.arange(STEPS) + 0.5) / STEPS)
    assert law.along_arc(*one(centre, size, first, sweep))[0] == pytest.approx(summed(law, radius), rel=1e-5)


@given(LIMITS, SPEEDS, RADII)
@settings(max_examples=60, deadline=None)
def test_the_law_at_a_point_is_the_line_of_no_rise(limit: float, surface: float, r: float) -> None:
    law = SpeedLaw(limit, surface, True)
    assert law.along_line(*one(r, r))[0] == pytest.approx(1 / law.at(r), rel=1e-12)


def test_a_way_of_one_tick_in_x_is_no_worse_than_one_of_none() -> None:
    """The difference of squares that the integral could be written as would lose half of its digits here."""
    law = SpeedLaw(3000, 200, True)
    tick = 1 / MM
    assert law.along_line(*one(100, 100 + tick))[0] == pytest.approx(law.along_line(*one(100, 100))[0], rel=1e-9)


def test_an_arc_about_the_centre_line_has_its_mean_in_closed_form() -> None:
    """|R cos a| over a full circle has the mean 2 R / pi; without a limit that bites the mean of 1 / n is that times the slope."""
    law = SpeedLaw(1e12, 200, False)
    assert law.along_arc(*one(0, 10, 0.3, 2 * pi))[0] == pytest.approx(law.slope * 20 / pi, rel=1e-6)


def test_a_held_speed_is_that_of_its_diameter_wherever_the_tool_goes() -> None:
    state = state_of(run("G21 G99 G97 S100 M03\nG50 S3000\nG96 S157.08\nG00 X50. Z5.\nG97\nG01 X10. F.2\nM30\n"))
    assert spindle_speed(state, 5 * MM, generic_lathe()) == pytest.approx(1000, abs=0.01)
    assert spindle_speed(state, 0, generic_lathe()) == spindle_speed(state, 90 * MM, generic_lathe())


def test_the_machine_limits_every_speed() -> None:
    on = replace(generic_lathe(), spindle=replace(generic_lathe().spindle, max_rpm=Fraction(1200)))
    for speed in ("G97 S5000", "G96 S900"):
        state = state_of(run(f"G21 G99 {speed} M03\nG00 X50. Z5.\nG01 X10. F.2\nM30\n"))
        assert spindle_speed(state, MM, on) == 1200
