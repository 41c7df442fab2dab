"""Speeds and machining times against worked values, by executing programs.

Source of the values: handbook formulas n = 1000 v / (pi D) and t = 60 pi (D1^2 - D2^2) / (4000 f v), with the split at the clamp diameter;
a published course example gives 250 rev/min at 150 mm as 117.8 m/min. Where a row says "computed", it is the closed form of those formulas, and
scipy's quadrature over the path is the second opinion for every one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from math import atan2, hypot, pi, sin

import pytest
from scipy.integrate import quad

from tests.control.running import at_once, machine, run, state_of, with_speed
from verifier.control import TICKS_PER_MM, Kind, Trace
from verifier.geometry import spindle_speed, times
from verifier.machines import Machine, generic_lathe

FAST = 1_000_000
"""A spindle without a practical limit, in rev/min."""


def cut_seconds(trace: Trace, on: Machine) -> float:
    """Without speeding up and slowing down, which the formulas leave out."""
    found = times(trace, at_once(on))
    return float(sum(found.moves[k] for k, row in enumerate(trace.rows()) if row.kind is not Kind.RAPID))


def by_quadrature(trace: Trace, on: Machine) -> float:
    """Seconds of all cuts at a feed per revolution, by adaptive quadrature of ds / (f n) along the path; another way than the code under test."""
    total = 0.0
    for row in trace.rows():
        if row.kind is Kind.RAPID:
            continue
        state = trace.states[row.state]
        limit = float(on.spindle.max_rpm) if state.clamp is None else min(float(state.clamp), float(on.spindle.max_rpm))
        place, length = way(row.kind, *(value / TICKS_PER_MM for value in row[1:5]), row.cx / 1e8, row.cz / 1e8)

        def pace(
            t: float,
            state=state,
            limit=limit,
            place=place,  # type: ignore[no-untyped-def]
        ) -> float:
            diameter = 2 * abs(place(t))
            if state.speed_mode == "rpm":
                return 1 / min(float(state.speed), limit)
            surface = 1000 * float(state.speed)
            return 1 / limit if pi * diameter * limit <= surface else pi * diameter / surface

        value = sum(quad(pace, k / 32, (k + 1) / 32, limit=200, epsabs=1e-13)[0] for k in range(32))
        total += 60 * value * length / float(state.feed)
    return total


def way(
    kind: Kind, x0: float, z0: float, x1: float, z1: float, cx: float, cz: float
) -> tuple[Callable[[float], float], float]:
    """X radius over the share of the way, and its length."""
    if not kind.arc:
        return lambda t: x0 + (x1 - x0) * t, hypot(x1 - x0, z1 - z0)
    radius = hypot(x0 - cx, z0 - cz)
    first, end = atan2(x0 - cx, z0 - cz), atan2(x1 - cx, z1 - cz)  # angle from +Z towards +X: counter-clockwise
    turn = ((end - first) % (2 * pi) if kind is Kind.ARC_CCW else -((first - end) % (2 * pi))) or 2 * pi
    return lambda t: cx + radius * sin(first + turn * t), radius * abs(turn)


def face(d1: float, d2: float, v: int, f: float, clamp: int | None) -> str:
    limit = f"G50 S{clamp}\n" if clamp else ""
    return f"G21 G99 G97 S500 M03\n{limit}G96 S{v}\nG00 X{d1:.3f} Z0.\nG01 X{d2:.3f} F{f}\nM30\n"


@pytest.mark.parametrize(
    ("surface", "diameter", "rpm"),
    [
        (200, 50, 1273.24),  # computed
        (120, 30, 1273.24),  # computed
        (117.8, 150, 249.98),  # 250 rev/min at 150 mm is 117.8 m/min: published example, its value without rounded pi
    ],
)
def test_spindle_speed_at_a_diameter_by_the_handbook_formula(surface: float, diameter: int, rpm: float) -> None:
    trace = run(f"G21 G99 G96 S{surface} M03\nG00 X{diameter}. Z0.\nG01 Z-1. F0.2\nM30\n")
    found = spindle_speed(state_of(trace), diameter * TICKS_PER_MM // 2, generic_lathe())
    assert found == pytest.approx(rpm, abs=0.005)


def test_spindle_speed_in_inch_counts_feet_per_minute() -> None:
    trace = run("G20 G99 G96 S500 M03\nG00 X2. Z0.\nG01 Z-1. F0.01\nM30\n")
    # n = 12 V / (pi D): 500 ft/min at 2 in gives 954.93 (computed)
    assert spindle_speed(state_of(trace), TICKS_PER_MM * 254 // 10, generic_lathe()) == pytest.approx(954.93, abs=0.005)


@pytest.mark.parametrize(("clamp", "diameter"), [(3000, 21.2207), (1500, 42.4413)])
def test_the_clamp_is_reached_at_the_handbook_diameter(clamp: int, diameter: float) -> None:
    trace = run(face(100, 0, 200, 0.2, clamp))
    state = state_of(trace)
    at = [round(d / 2 * TICKS_PER_MM) for d in (diameter + 0.0001, diameter - 0.0001, 0)]
    above, below, centre = (spindle_speed(state, x, generic_lathe()) for x in at)
    assert above is not None
    assert above < clamp
    assert below == centre == clamp


FACES = [
    (100, 20, 200, 0.2, None, FAST, 11.3097),
    (100, 0, 200, 0.2, 5000, FAST, 11.9720),
    (100, 0, 200, 0.2, 3000, FAST, 12.3115),
    (100, 0, 200, 0.2, 1500, FAST, 13.9030),
    (50, 0, 250, 0.25, 2000, FAST, 3.0786),
    (60, -1.6, 180, 0.15, 2500, FAST, 7.3279),
    (100, 0, 200, 0.2, None, 3000, 12.3115),  # the machine's greatest speed limits like a clamp of that value
    (100, 0, 200, 0.2, 5000, 1500, 13.9030),
]


@pytest.mark.parametrize(("d1", "d2", "v", "f", "clamp", "greatest", "seconds"), FACES)
def test_facing_at_constant_surface_speed_takes_the_worked_time(
    d1: float, d2: float, v: int, f: float, clamp: int | None, greatest: int, seconds: float
) -> None:
    on = with_speed(greatest)
    trace = run(face(d1, d2, v, f, clamp), on)
    assert cut_seconds(trace, on) == pytest.approx(seconds, abs=0.00006)
    assert cut_seconds(trace, on) == pytest.approx(by_quadrature(trace, on), rel=1e-7)


def test_facing_past_the_centre_splits_as_worked() -> None:
    on = with_speed(FAST)
    trace = run("G21 G99 G97 S500 M03\nG50 S2500\nG96 S180\nG00 X60. Z0.\nG01 X0. F0.15\nX-1.6\nM30\n", on)
    assert times(trace, at_once(on)).moves[1:].tolist() == pytest.approx([7.1999, 0.1280], abs=0.00006)


def test_facing_at_constant_speed_is_not_facing_at_constant_surface_speed() -> None:
    """The trap of one widely read page: R / (f n) with n of the outer diameter is the constant-speed time, twice too long."""
    on = with_speed(FAST)
    rpm = 1000 * 200 / (pi * 100)
    constant = run(f"G21 G99 G97 S{rpm:.6f} M03\nG00 X100. Z0.\nG01 X0. F0.2\nM30\n", on)
    surface = run(face(100, 0, 200, 0.2, None), on)
    assert cut_seconds(constant, on) == pytest.approx(50 / (0.2 * rpm) * 60)
    assert cut_seconds(constant, on) == pytest.approx(2 * cut_seconds(surface, on), rel=1e-3)


def test_a_cylinder_takes_the_handbook_time() -> None:
    """The formula t = 60 pi D L / (1000 f v); D 50, L 80, f 0.25, v 200: computed."""
    trace = run("G21 G99 G96 S200 M03\nG00 X50. Z0.\nG01 Z-80. F0.25\nM30\n")
    assert cut_seconds(trace, generic_lathe()) == pytest.approx(60 * pi * 50 * 80 / (1000 * 0.25 * 200), rel=1e-12)


def test_a_taper_takes_the_worked_time() -> None:
    """40 to 60 over 30 mm, f 0.2, v 180: 8.27882 s (computed from t = 60 pi L_path (D1 + D2) / 2 / (1000 f v))."""
    trace = run("G21 G99 G96 S180 M03\nG00 X40. Z0.\nG01 X60. Z-30. F0.2\nM30\n")
    assert cut_seconds(trace, generic_lathe()) == pytest.approx(8.27882, abs=0.000006)
    assert cut_seconds(trace, generic_lathe()) == pytest.approx(by_quadrature(trace, generic_lathe()), rel=1e-7)


@pytest.mark.parametrize("words", ["R10.", "I0. K-10."])
def test_a_quarter_circle_takes_the_worked_time(words: str) -> None:
    """Quarter of radius 10 from 20 to 40, convex, f 0.2, v 180: 2.69213 s (computed from t = 60 / (1000 f v) * integral of pi D ds)."""
    trace = run(f"G21 G99 G96 S180 M03\nG00 X20. Z0.\nG03 X40. Z-10. {words} F0.2\nM30\n")
    assert cut_seconds(trace, generic_lathe()) == pytest.approx(2.69213, abs=0.000006)
    assert cut_seconds(trace, generic_lathe()) == pytest.approx(by_quadrature(trace, generic_lathe()), rel=1e-7)


@pytest.mark.parametrize("clamp", [4000, 2500, 1500, 900])
@pytest.mark.parametrize(
    "cut", ["G02 X40. Z-10. R10.", "G03 X40. Z-10. R10.", "G02 X20. Z-10. I-30. K-5.", "G03 X20. Z0. I-12. K-3."]
)
def test_arcs_agree_with_quadrature_across_clamp_and_centre(cut: str, clamp: int) -> None:
    """Arcs through the clamp diameter and past the centre line, up to a full circle."""
    trace = run(f"G21 G99 G97 S500 M03\nG50 S{clamp}\nG96 S120\nG00 X20. Z0.\n{cut} F0.2\nM30\n")
    assert cut_seconds(trace, generic_lathe()) == pytest.approx(by_quadrature(trace, generic_lathe()), rel=1e-6)


def test_tapping_feed_per_minute_is_revolutions_times_pitch() -> None:
    """M10 x 1.5 at 400 rev/min: 600 mm/min (handbook), so a thread of 30 mm takes 3 s."""
    per_minute = run("G21 G98 G97 S400 M03\nG00 X10. Z0.\nG01 Z-30. F600.\nM30\n")
    thread = run("G21 G99 G97 S400 M03\nG00 X10. Z0.\nG32 Z-30. F1.5\nM30\n")
    assert cut_seconds(per_minute, generic_lathe()) == pytest.approx(3)
    assert cut_seconds(thread, generic_lathe()) == pytest.approx(3)


def test_the_lead_of_a_taper_thread_is_along_the_longer_travel() -> None:
    """F is the lead along Z up to 45 degrees of taper, along X (radius) beyond: read in public course texts."""
    flat = run("G21 G99 G97 S600 M03\nG00 X10. Z0.\nG32 X20. Z-30. F1.5\nM30\n")
    steep = run("G21 G99 G97 S600 M03\nG00 X10. Z0.\nG32 X70. Z-10. F1.5\nM30\n")
    assert cut_seconds(flat, generic_lathe()) == pytest.approx(30 / 1.5 / 600 * 60)
    assert cut_seconds(steep, generic_lathe()) == pytest.approx(30 / 1.5 / 600 * 60)


def test_a_rapid_takes_the_trapezoid_or_the_triangle() -> None:
    """From rest to rest: L / v + v / a where the speed is reached, else 2 sqrt(L / a): elementary mechanics."""
    generic = generic_lathe()
    axes = {**generic.axes, "Z": replace(generic.axes["Z"], rapid=Fraction(12000), acceleration=Fraction(2000))}
    on = machine(axes=axes)
    trace = run("G21\nG00 X10. Z0.\nZ100.\nZ99.\nM30\n", on)
    assert times(trace, on).moves[1:].tolist() == pytest.approx([100 / 200 + 200 / 2000, 2 * (1 / 2000) ** 0.5])


def test_the_second_opinion_itself_on_a_known_circle() -> None:
    """The integral of X over the half circle of radius R about the origin is 2 R^2 (Pappus)."""
    place, length = way(Kind.ARC_CCW, 0.0, 10.0, 0.0, -10.0, 0.0, 0.0)
    value, _ = quad(lambda t: place(t), 0, 1)
    assert length == pytest.approx(10 * pi)
    assert value * length == pytest.approx(200)
