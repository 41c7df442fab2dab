"""Whole programs against values and tables from outside the project; the source stands beside each check."""

from __future__ import annotations

from itertools import pairwise

import pytest

from tests.control.running import MM, codes, events, machine, run, state_of
from verifier.control import Kind, Trace
from verifier.geometry import spindle_speed
from verifier.machines import generic_lathe

START = "G21 G99 G97 S500 M03\n"


def test_an_arc_by_radius_has_the_centre_that_the_standard_language_report_works_out() -> None:
    """NISTIR 6556 Table 10: at (3, 1) `g2 x0 r7.01` has its centre at (1.5, 7.8476). The plane is seen alike: its x along Z, its y along X radius."""
    row = run(START + "G00 X2. Z3.\nG02 Z0. X2. R7.01 F.1\nM30\n").rows()[-1]
    assert row.kind is Kind.ARC_CW
    assert (row.cz / MM, row.cx / MM) == (1.5, pytest.approx(7.8476, abs=0.00005))


def test_an_arc_by_its_centre_has_the_centre_that_the_report_works_out() -> None:
    """NISTIR 6556 section 3.5.3: from (7, 7) to (10, 16) with offsets 3 and 4 the centre is (10, 11) and the radius 5."""
    row = run(START + "G00 X14. Z7.\nG02 X32. Z10. K3. I4. F.1\nM30\n").rows()[-1]
    assert (row.cz, row.cx) == (10 * MM, 11 * MM)
    assert codes(run(START + "G00 X14. Z7.\nG02 X32. Z10. K3. I4. F.1\nM30\n")) == []


def test_roughing_goes_down_through_the_worked_levels() -> None:
    """Start 62, contour from 20, allowance 0.4, depth 2: 62.4, then 58.4 ... 22.4, 20.4 in eleven passes (computed, ceil(42 / 2 / 2) = 11)."""
    text = "G00 X62. Z2.\nG71 U2. R.5\nG71 P10 Q20 U.4 W0 F.2\nN10 G00 X20.\nG01 Z-10.\nN20 X62.\nM30\n"
    trace = run(START + text)
    levels = [2 * row.x1 / MM for row in trace.rows() if row.kind is Kind.FEED and row.z1 < row.z0 and row.x1 == row.x0]
    assert levels[:11] == pytest.approx([58.4, 54.4, 50.4, 46.4, 42.4, 38.4, 34.4, 30.4, 26.4, 22.4, 20.4])
    assert levels[11:] == pytest.approx([20.4])  # the last pass, along the contour


THREADS = [
    (2.5, 1.534, 0.4, 0.1, 0.05, 2, [0.4, 0.5657, 0.6928, 0.8, 0.9, 1.0, 1.1, 1.2, 1.3, 1.4, 1.484, 1.534, 1.534]),
    (1.5, 0.92, 0.3, 0.05, 0.05, 1, [0.3, 0.4243, 0.5196, 0.6, 0.6708, 0.7348, 0.7937, 0.8485, 0.87, 0.92]),
    (1.0, 0.613, 0.2, 0.05, 0.02, 1, [0.2, 0.2828, 0.3464, 0.4, 0.45, 0.5, 0.55, 0.593, 0.613]),
]


@pytest.mark.parametrize(("lead", "height", "first", "least", "finish", "passes", "depths"), THREADS)
def test_threads_are_cut_at_the_worked_depths(
    lead: float, height: float, first: float, least: float, finish: float, passes: int, depths: list[float]
) -> None:
    """Depth of pass n is the first times the root of n, no increment below the least, the allowance left for the finish: course texts; worked."""
    major = 20.0
    text = (
        f"G00 X{major + 4} Z5.\nG76 P{passes:02d}0060 Q{round(least * 1000)} R{finish}\n"
        f"G76 X{major - 2 * height:.3f} Z-30. P{round(height * 1000)} Q{round(first * 1000)} F{lead}\nM30\n"
    )
    trace = run(START + text)
    found = [(major - 2 * row.x1 / MM) / 2 for row in trace.rows() if row.kind is Kind.THREAD]
    assert found == pytest.approx(depths, abs=0.00006)


def starts_of(trace: Trace) -> list[int]:
    return [row.z0 for row in trace.rows() if row.kind is Kind.THREAD]


def test_flank_infeed_shifts_the_start_by_depth_times_the_tangent_of_half_the_angle() -> None:
    """Single edge cutting: course texts; the shift t tan(a / 2) of a pass against another: 0.5774 of the difference in depth at 60 degrees."""
    text = "G00 X24. Z5.\nG76 P010060 Q50 R.05\nG76 X18.16 Z-30. P920 Q300 F1.5\nM30\n"
    trace = run(START + text)
    rows = [row for row in trace.rows() if row.kind is Kind.THREAD][
        :-1
    ]  # the finish takes what is left, where roughing ended
    for one, other in pairwise(rows):
        assert (one.z0 - other.z0) / (one.x1 - other.x1) == pytest.approx(0.57735, abs=0.0001)
    plunge = starts_of(run(START + text, machine({"flank-infeed": "plunge"})))
    assert len(set(plunge)) == 1


@pytest.mark.parametrize(("code", "field", "value", "during"), [
    ("M03", "sense", "forward", True), ("M04", "sense", "reverse", True), ("M05", "sense", "stopped", False),
    ("M07", "coolant", "second-on", True), ("M08", "coolant", "on", True), ("M09", "coolant", "off", False),
])  # fmt: skip
def test_m_codes_start_with_the_motion_or_after_it_as_the_standard_says(
    code: str, field: str, value: str, during: bool
) -> None:
    """JB 3208-83 (the national adoption of ISO 1056): 03, 04, 07 and 08 start with the motion of their block, 05 and 09 after it."""
    trace = run(f"G21 G98 G97 S500\nG00 X50. Z5.\nG01 Z0. F100. {code}\nZ-1.\nM30\n")
    assert (getattr(state_of(trace, 1), field) == value) is during
    assert getattr(state_of(trace, 2), field) == value


def test_stops_come_after_the_motion_of_their_block() -> None:
    """JB 3208-83: 00, 01, 02 and 30 after completion of the motion."""
    for code, kind in (("M00", "stop"), ("M01", "optional-stop"), ("M02", "program-end"), ("M30", "program-end")):
        trace = run(f"G21 G98 G97 S500\nG00 X50. Z5. {code}\nM30\n")
        assert next(event for event in trace.events if event.kind == kind).at == 1


def test_the_published_speed_of_a_facing_pass() -> None:
    """250 rev/min at 150 mm are 117.8 m/min: a published course example, with pi unrounded."""
    state = state_of(run("G21 G99 G96 S117.81 M03\nG00 X150. Z0.\nG01 X140. F.2\nM30\n"))
    assert spindle_speed(state, 75 * MM, generic_lathe()) == pytest.approx(250, abs=0.02)


@pytest.mark.parametrize(("word", "value"), [("X123.45", 123.45), ("X12345", 12.345)])
def test_numbers_with_and_without_a_point_as_a_manual_prints_them(word: str, value: float) -> None:
    """X123.45 is 123.450 and X12345 is 12.345 mm at an increment of a micrometre: read in a manual."""
    assert 2 * run(f"G21 G00 {word} Z0.\nM30\n").rows()[0].x1 / MM == value


def test_a_dwell_by_p_is_in_milliseconds_on_lathes() -> None:
    """Course texts agree; NISTIR 6556 section 3.6, for mills, says seconds, and is no source for lathes here."""
    assert events(run("G21 G04 P2500\nM30\n"), "dwell") == ["5/2 s"]
