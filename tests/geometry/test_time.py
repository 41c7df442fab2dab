"""Times of whole programs: laws, what is counted beside moves, and what is not counted and says so."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from math import fsum

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.control.running import at_once, machine, program, run
from verifier.control import Kind, Trace, sequences
from verifier.geometry import Times, cutting_moves, first_pass_events, spent_by_sequence, times
from verifier.machines import FrozenMap, Machine, generic_lathe

START = "G21 G99 G97 S500 M03\nG00 X50. Z5.\n"
GENERIC = generic_lathe()


def timed(text: str, on: Machine = GENERIC, **how: object) -> tuple[Trace, Times]:
    trace = run(text, on, **how)  # type: ignore[arg-type]
    return trace, times(trace, on)


def sequence_totals(trace: Trace, found: Times, text: str) -> tuple[float, ...]:
    parts = sequences(program(text), GENERIC)
    return tuple(one.total for one in spent_by_sequence(found, trace, parts, cutting_moves(trace, None)))


def cutting(text: str) -> float:
    trace, found = timed(text)
    return fsum(found.moves[k] for k, row in enumerate(trace.rows()) if row.kind is not Kind.RAPID)


def reasons(found: Times) -> list[str]:
    return [entry.reason for entry in found.uncounted]


def thousandths(value: int) -> str:
    sign, digits = ("-" if value < 0 else ""), str(abs(value)).rjust(4, "0")
    return f"{sign}{digits[:-3]}.{digits[-3:]}"


# -- laws ---------------------------------------------------------------------------------------------------------------

MODES = st.sampled_from(["G97 S700 G99 F.2", "G96 S150 G99 F.2", "G96 S150 G98 F120.", "G96 S40 G99 F.35"])
PLACES = st.tuples(st.integers(-60000, 90000), st.integers(-50000, 50000))


@given(MODES, st.integers(200, 4000), PLACES, PLACES, st.lists(st.integers(1, 99), max_size=4))
@settings(max_examples=80, deadline=None)
def test_splitting_a_straight_cut_does_not_change_its_time(
    mode: str, clamp: int, start: tuple[int, int], end: tuple[int, int], cuts: list[int]
) -> None:
    """Up to the rounding of the points to whole ticks: they lie on the line only that nearly."""
    head = f"G21 M03 G50 S{clamp}\n{mode}\nG00 X{thousandths(start[0])} Z{thousandths(start[1])}\nG01 "
    points = [
        tuple(a * 100 + (b - a) * cut for a, b in zip(start, end, strict=True)) for cut in [*sorted(set(cuts)), 100]
    ]
    split = "\n".join(decimal(x, z) for x, z in points)
    whole = f"X{thousandths(end[0])} Z{thousandths(end[1])}"
    assert cutting(f"{head}{split}\nM30\n") == pytest.approx(cutting(f"{head}{whole}\nM30\n"), rel=1e-6, abs=1e-9)


def decimal(x: int, z: int) -> str:
    """X and Z from hundred-thousandths of a millimetre."""
    words = []
    for letter, value in (("X", x), ("Z", z)):
        digits = str(abs(value)).rjust(6, "0")
        words.append(f"{letter}{'-' if value < 0 else ''}{digits[:-5]}.{digits[-5:]}")
    return " ".join(words)


@given(MODES, st.integers(200, 4000), st.sampled_from(["G02", "G03"]), st.integers(0, 60), st.integers(1, 9))
@settings(max_examples=60, deadline=None)
def test_splitting_an_arc_does_not_change_its_time(mode: str, clamp: int, code: str, x: int, share: int) -> None:
    """A half circle of radius 10 about (x, 0), cut at one of the points where the coordinates are whole (6, 8, 10)."""
    sense = -1 if code == "G02" else 1
    head = f"G21 M03 G50 S{clamp}\n{mode}\nG00 X{2 * x}. Z{10 * sense}.\n{code} "
    dx, dz = (6, 8) if share < 5 else (8, -6)
    whole = f"X{2 * x}. Z{-10 * sense}. I0. K{-10 * sense}."
    first = f"X{2 * (x + dx)}. Z{dz * sense}. I0. K{-10 * sense}."
    second = f"X{2 * x}. Z{-10 * sense}. I{-dx}. K{-dz * sense}."
    assert cutting(f"{head}{first}\n{second}\nM30\n") == pytest.approx(cutting(f"{head}{whole}\nM30\n"), rel=1e-9)


@given(MODES, PLACES, PLACES, st.integers(100, 3900), st.integers(1, 500))
@settings(max_examples=60, deadline=None)
def test_a_lower_clamp_never_makes_a_cut_shorter(
    mode: str, start: tuple[int, int], end: tuple[int, int], clamp: int, less: int
) -> None:
    text = (
        "G21 M03 G50 S{}\n"
        + f"{mode}\nG00 {decimal(*(100 * v for v in start))}\nG01 {decimal(*(100 * v for v in end))}\nM30\n"
    )
    assert cutting(text.format(max(1, clamp - less))) >= cutting(text.format(clamp)) - 1e-9


WORK = (
    "O1\nG21 G99\n(ROUGH)\nN1 T0101\nG50 S2500\nG96 S200 M03\nG00 X62. Z2. M08\nG71 U2. R.5\nG71 P10 Q20 U.4 W.1 F.25\n"
    "N10 G00 X20.\nG01 Z-10. F.1\nG02 X30. Z-15. R5.\nN20 G01 X60.\nG04 P500\nG28 U0 W0 M05\nM01\n"
    "(FINISH)\nN2 T0202\nG96 S250 M04\nG00 X62. Z2.\nG70 P10 Q20\nM98 P1000 L3\nG28 U0 W0 M05\nM30\nO1000\nG01 W-1. F.2\nG00 W1.\nM99\n"
)


def test_the_total_is_the_sum_of_its_parts_and_of_its_sequences() -> None:
    trace, found = timed(WORK)
    parts = [*found.moves.tolist(), *found.events.tolist(), *(wait.seconds for wait in found.waits)]
    assert found.total == pytest.approx(fsum(parts), rel=1e-12)
    by_sequence = sequence_totals(trace, found, WORK)
    assert len(by_sequence) == 2
    assert trace.faults == ()
    assert min(by_sequence) > 5
    assert fsum(by_sequence) == pytest.approx(found.total, rel=1e-12)


def test_what_a_called_program_or_a_finished_contour_does_counts_where_it_was_called() -> None:
    short = WORK.replace("M98 P1000 L3\n", "").replace("G70 P10 Q20\n", "")
    (one, two), (less_one, less_two) = (
        sequence_totals(trace, found, text) for text in (WORK, short) for trace, found in [timed(text)]
    )
    assert one == pytest.approx(less_one)
    assert two > less_two + 1


def test_an_inch_program_takes_as_long_as_the_metric_program() -> None:
    inch = (
        "G20 G99 G50 S2000\nG96 S500 M03\nG00 X2. Z.1\nG01 Z-1. F.01\nX2.5 Z-1.25\nG02 X3. Z-1.5 R.25\nG00 X4.\nM30\n"
    )
    metric = "G21 G99 G50 S2000\nG96 S152.4 M03\nG00 X50.8 Z2.54\nG01 Z-25.4 F.254\nX63.5 Z-31.75\nG02 X76.2 Z-38.1 R6.35\nG00 X101.6\nM30\n"
    assert timed(inch)[1].moves.tolist() == pytest.approx(timed(metric)[1].moves.tolist(), rel=1e-12)


def test_a_program_executed_twice_is_timed_to_the_same_bits() -> None:
    (_, one), (_, other) = timed(WORK), timed(WORK)
    assert one.moves.tobytes() == other.moves.tobytes()
    assert (one.total, one.assumptions, one.uncounted) == (other.total, other.assumptions, other.uncounted)


# -- beside the moves ---------------------------------------------------------------------------------------------------


def test_only_the_first_pass_of_a_program_that_repeats_is_counted() -> None:
    once = timed(START + "G04 X1.\nG01 Z0. F.2\nG00 X50. Z5.\nM30\n")[1]
    trace, found = timed(START + "G04 X1.\nG01 Z0. F.2\nG00 X50. Z5.\nM99\n")
    stopping = sum(wait.seconds for wait in once.waits if wait.at == trace.first_pass)
    assert stopping > 0
    assert found.total == pytest.approx(once.total - stopping), "only at an end it waits until the spindle stands"
    assert len(found.moves) == len(trace.moves) == 2 * trace.first_pass
    assert first_pass_events(trace) < len(trace.events)
    assert any("first pass" in line for line in found.assumptions)


def test_a_tool_change_takes_its_time_only_where_the_tool_is_another_one() -> None:
    on = machine(tool_change_seconds=Fraction(3))
    assert timed("G21 T0101\nT0102\nT0100\nT0303\nT0101\nM30\n", on)[1].events.tolist() == [3, 0, 0, 3, 3, 0]


@pytest.mark.parametrize(("choice", "beside"), [("index-first", 3.0), ("index-with-motion", 2.0)])
def test_a_turret_that_indexes_with_the_motion_takes_only_what_the_motion_does_not_cover(
    choice: str, beside: float
) -> None:
    on = at_once(machine({"tool-with-motion": choice}, tool_change_seconds=Fraction(3)))
    trace, found = timed("G21 G98 G97 S500 M03\nT0101\nG00 X50. Z5.\nT0303 G01 X50. Z-5. F600.\nM30\n", on)
    assert trace.rows()[-1].kind is Kind.FEED
    # The T word makes the place unknown until it is named, so the length of this move is not known and covers nothing.
    assert [round(float(v), 6) for v in found.events[:2]] == [3.0, 3.0]
    trace, found = timed("G21 G98 G97 S500 M03\nG00 X50. Z5.\nT0303 G01 U0. W-10. F600.\nM30\n", on)
    assert float(found.moves[-1]) == pytest.approx(1.0)
    assert float(found.events[0]) == pytest.approx(beside)


def test_dwells_count_in_seconds_or_in_revolutions_of_that_moment() -> None:
    on = machine({"dwell-x-u": "revolutions-per-rev-feed"})
    text = "G21 G99 G97 S600 M03\nG00 X50. Z5.\nG04 X3.\nG96 S100\nG04 X3.\nG04 P250\nM30\n"
    rpm = 1000 * 100 / (np.pi * 50)
    assert timed(text, on)[1].events[:3].tolist() == pytest.approx([3 / 600 * 60, 3 / rpm * 60, 0.25])


def test_a_dwell_in_revolutions_where_the_diameter_is_not_known_is_not_counted() -> None:
    on = machine({"dwell-x-u": "revolutions-per-rev-feed"})
    found = timed("G21 G99 G96 S100 M03\nG04 X3.\nM30\n", on)[1]
    assert reasons(found) == ["a dwell in revolutions at a speed that is not known here"]


def test_stops_are_named_and_take_no_time() -> None:
    found = timed(START + "M00\nM01\nM30\n")[1]
    assert found.events.tolist() == [0, 0, 0]
    assert "standing at a program stop is not counted" in found.assumptions


def test_no_slide_is_faster_than_its_rapid() -> None:
    found = timed("G21 G98 G97 S500 M03\nG00 X50. Z0.\nG01 Z-160. F99999.\nM30\n", at_once())[1]
    assert found.moves[-1] == pytest.approx(160 / 16000 * 60)
    assert any(
        line.startswith("a feed faster than a slide's rapid is taken at that rapid") for line in found.assumptions
    )


@pytest.mark.parametrize("choice", ["straight", "each-axis"])
def test_a_rapid_of_two_axes_takes_as_long_as_its_slowest_axis_or_the_line_that_asks_no_more_of_either(
    choice: str,
) -> None:
    """X 200 mm/s and 1000 mm/s2, Z 400 mm/s and 4000 mm/s2, over 100 mm of radius and 100 mm: alone 0.7 s and 0.35 s; on the line X leads: 0.7 s.
    Over 40 mm of radius and 400 mm X alone takes 0.4 s and Z 1.1 s; on the line Z limits the speed and both the acceleration to that of Z: 1.1 s.
    """
    axes = {
        "X": replace(GENERIC.axes["X"], rapid=Fraction(12000), acceleration=Fraction(1000)),
        "Z": replace(GENERIC.axes["Z"], rapid=Fraction(24000), acceleration=Fraction(4000)),
    }
    on = machine({"rapid-path": choice}, axes=FrozenMap(axes))
    found = timed("G21\nG00 X0. Z0.\nX200. Z100.\nX0. Z0.\nX80. Z400.\nM30\n", on)[1]
    assert found.moves[1:].tolist() == pytest.approx([0.7, 0.7, 1.1])


def test_where_the_limits_part_a_straight_rapid_is_slower_than_each_axis_by_itself() -> None:
    """Z sets the speed of the line, X its acceleration."""
    axes = {
        "X": replace(GENERIC.axes["X"], rapid=Fraction(60000), acceleration=Fraction(500)),
        "Z": replace(GENERIC.axes["Z"], rapid=Fraction(12000), acceleration=Fraction(5000)),
    }
    text = "G21\nG00 X0. Z0.\nX200. Z100.\nM30\n"
    straight, each = (
        timed(text, machine({"rapid-path": c}, axes=FrozenMap(axes)))[1].moves[1] for c in ("straight", "each-axis")
    )
    assert each == pytest.approx(2 * (100 / 500) ** 0.5)
    assert straight == pytest.approx(100 / 200 + 200 / 500)


# -- what is not counted ------------------------------------------------------------------------------------------------

UNCOUNTED = [
    ("G21 G00 X50. Z5.\nM30\n", "its start or its end is a place that only the machine knows"),
    (START + "G01 Z0.\nM30\n", "no feed is established"),
    ("G21 G97 S500 M03\nG00 X50. Z5.\nG01 Z0. F.2\nM30\n", "no feed mode is established"),
    (START + "G01 Z0. F#500\nM30\n", "the feed is a value that only the machine knows"),
    (START + "G01 Z0. F0\nM30\n", "the feed is zero"),
    ("G21 G99 M03\nG00 X50. Z5.\nG01 Z0. F.2\nM30\n", "no spindle speed is established"),
    (START + "G97 S#500\nG01 Z0. F.2\nM30\n", "the spindle speed is a value that only the machine knows"),
    (START + "S0\nG01 Z0. F.2\nM30\n", "the spindle speed is zero"),
    (START + "M05\nG01 Z0. F.2\nM30\n", "the spindle is stopped"),
    (
        "G21 G99 G96 S100 M03\nG01 W-5. F.2\nM30\n",
        "the diameter, and with it the spindle speed, is known only to the machine",
    ),
    (START + "G02 X60. Z0. R1. F.2\nM30\n", "the centre of the arc is not known"),
]


@pytest.mark.parametrize(("text", "reason"), UNCOUNTED)
def test_a_move_that_cannot_be_timed_takes_no_time_and_says_why(text: str, reason: str) -> None:
    trace, found = timed(text)
    assert found.moves[-1] == 0
    assert reason in reasons(found)
    assert found.uncounted[-1].block == trace.rows()[-1].block


@pytest.mark.parametrize("words", ["M77", "G65 P9000", "M98 P4000", "G83 Z-5. R1. Q1000", "G01 X1.2.3"])
def test_what_was_not_executed_is_among_the_uncounted(words: str) -> None:
    assert any(entry.block == 2 for entry in timed(START + words + "\nM30\n")[1].uncounted)


def test_uncounted_moves_of_one_block_are_counted_not_listed() -> None:
    found = timed(START + "M98 P1000 L40\nM30\nO1000\nG01 W-1.\nM99\n")[1]
    assert [(entry.block, entry.count) for entry in found.uncounted if "feed" in entry.reason] == [(5, 40)]


def test_a_way_between_two_places_that_are_unknown_in_the_same_way_has_a_time() -> None:
    assert timed("G21 G98 G97 S500 M03\nG01 W-10. F600.\nM30\n", at_once())[1].moves.tolist() == pytest.approx([1.0])


def test_constant_surface_speed_without_a_clamp_says_what_limit_was_taken() -> None:
    text = "G21 G99 {}G96 S200 M03\nG00 X50. Z5.\nG01 X0. F.2\nM30\n"
    free, clamped = timed(text.format(""))[1], timed(text.format("G97 S100\nG50 S3000\n"))[1]
    line = "constant surface speed without a known clamp: up to the machine's 4000 rev/min"
    assert line in free.assumptions
    assert line not in clamped.assumptions


def test_an_empty_program_takes_no_time() -> None:
    trace, found = timed("M30\n")
    assert (found.total, len(found.moves), found.waits) == (0, 0, ())
    assert sequence_totals(trace, found, "M30\n") == (0,)


def test_moves_are_timed_in_columns_by_what_is_in_force() -> None:
    """Thousands of moves under few states: each state's moves together, and each pass as long as the first."""
    trace = run(
        START + "M98 P1000 L5000\nM30\nO1000\nG96 S100\nG01 W-1. F.2\nG97 S900\nW-1.\nG02 U0 W-2. R1.\nG00 W3.\nM99\n"
    )
    found = times(trace, GENERIC)
    assert len(found.moves) == 20001
    assert len(trace.states) <= 8
    per_pass = found.moves[1:].reshape(5000, 4)
    assert np.allclose(per_pass, per_pass[0])
