"""How a number is read: with and without a point, in both unit systems, by both readings; as whole programs are executed.

Source of the table: an operator's manual reads X123.45 as 123.450 everywhere and X12345 as 12.345 mm or 12345 mm; the rest follows from the
least increments 0.001 mm and 0.0001 in (common practice, no source).
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from tests.control.running import INCH, MM, codes, events, machine, run, state_of

LEAST, WHOLE = "least-increments", "whole-units"


def radius_of(word: str, units: str, reading: str) -> Fraction:
    """X as programmed (a diameter), in the program's unit."""
    trace = run(f"{units} G00 {word} Z0.\nM30\n", machine({"number-without-point": reading}))
    return Fraction(2 * trace.rows()[0].x1, MM if units == "G21" else INCH)


@pytest.mark.parametrize(
    ("word", "mm_least", "inch_least", "whole"),
    [
        ("X123.45", "123.45", "123.45", "123.45"),
        ("X12345", "12.345", "1.2345", "12345"),
        ("X1", "0.001", "0.0001", "1"),
        ("X10", "0.01", "0.001", "10"),
        ("X10.", "10", "10", "10"),
        ("X5.", "5", "5", "5"),
        ("X+5.", "5", "5", "5"),
        ("X+5", "0.005", "0.0005", "5"),
        ("X-.5", "-0.5", "-0.5", "-0.5"),
        ("X.5", "0.5", "0.5", "0.5"),
        ("X00010", "0.01", "0.001", "10"),
        ("X00010.", "10", "10", "10"),
        ("X0", "0", "0", "0"),
        ("X-0.", "0", "0", "0"),
    ],
)
def test_length_words(word: str, mm_least: str, inch_least: str, whole: str) -> None:
    assert radius_of(word, "G21", LEAST) == Fraction(mm_least)
    assert radius_of(word, "G20", LEAST) == Fraction(inch_least)
    assert radius_of(word, "G21", WHOLE) == radius_of(word, "G20", WHOLE) == Fraction(whole)


def test_a_lost_point_is_a_factor_of_a_thousand_in_millimetres_and_of_ten_thousand_in_inches() -> None:
    assert radius_of("X10.", "G21", LEAST) == 1000 * radius_of("X10", "G21", LEAST)
    assert radius_of("X10.", "G20", LEAST) == 10000 * radius_of("X10", "G20", LEAST)


@pytest.mark.parametrize("reading", [LEAST, WHOLE])
def test_p_and_q_of_the_multi_cycles_are_always_whole_least_increments(reading: str) -> None:
    """P and Q amounts in least increments without a point: read in public course texts."""
    on = machine({"number-without-point": reading})
    for units, one in (("G21", MM // 1000), ("G20", INCH // 10000)):
        trace = run(f"{units} G99 G97 S500 M03\nG00 X2. Z0.\nG75 R.01\nG75 X1. P2000 F.1\nM30\n", on)
        (call,) = trace.cycles
        assert call.amounts["peck"].value == Fraction(2000 * one, MM)


def test_p_of_a_multi_cycle_with_a_point_is_refused_and_told() -> None:
    trace = run("G21 G99 G97 S500 M03\nG00 X60. Z0.\nG75 R.5\nG75 X40. P2. F.1\nM30\n")
    assert "integer-word-with-point" in codes(trace)
    assert events(trace, "unexecuted") == ["G75 X40. P2. [retract 0.5 mm]"]


@pytest.mark.parametrize(
    ("feed", "mode", "value"),
    [
        ("F.2", "G99", "0.2"),
        ("F0.20", "G99", "0.2"),
        ("F20", "G99", "0.2"),  # own increment 0.01 mm/rev: common practice, no source
        ("F150.", "G98", "150"),
        ("F150", "G98", "150"),
    ],
)
def test_feed_words_in_millimetres(feed: str, mode: str, value: str) -> None:
    from verifier.machines import generic_lathe

    assert generic_lathe().feed_increments["per-revolution"]["mm"] == Fraction("0.01")
    trace = run(f"G21 {mode} G97 S500 M03\nG00 X50. Z0.\nG01 Z-1. {feed}\nM30\n")
    assert state_of(trace).feed == Fraction(value)


def test_feed_words_in_whole_units() -> None:
    on = machine({"feed-without-point": "whole-units"})
    trace = run("G21 G99 G97 S500 M03\nG00 X50. Z0.\nG01 Z-1. F2\nM30\n", on)
    assert state_of(trace).feed == 2


def test_feeds_in_inch_are_held_exactly() -> None:
    trace = run("G20 G99 G97 S500 M03\nG00 X2. Z0.\nG01 Z-1. F.0591\nM30\n")
    assert state_of(trace).feed == Fraction("0.0591") * Fraction("25.4")


def test_a_feed_without_point_before_any_feed_mode_is_told() -> None:
    trace = run("G21 G97 S500 M03\nG00 X50. Z0.\nG01 Z-1. F20\nM30\n")
    assert any("without a known feed mode" in entry.reason for entry in trace.unchecked)


@pytest.mark.parametrize("line", ["F-.2", "S-500", "G04 X-1."])
def test_a_value_below_zero_is_a_fault_and_told(line: str) -> None:
    trace = run(f"G21 G99 G97\n{line}\nM30\n")
    assert codes(trace) == ["negative-value"]
    assert events(trace, "unexecuted")


@pytest.mark.parametrize("x", ["9" * 39, "9" * 20 + "."])
def test_a_position_no_machine_reaches_is_a_fault_and_unknown(x: str) -> None:
    trace = run(f"G21 G00 X1. Z0.\nX{x}\nU{x}\nG01 W-1. F.1\nM30\n")
    assert "out-of-reach" in codes(trace)
    assert trace.bases[trace.rows()[-1].bx1].startswith("X out of reach")


@pytest.mark.parametrize("words", [f"R{'9' * 30}.", f"I{'9' * 30}. K0.", "R1000000000."])
def test_an_arc_about_a_centre_no_machine_reaches_is_told(words: str) -> None:
    trace = run(f"G21 G99 G97 S500 M03\nG00 X20. Z0.\nG02 X40. Z-10. {words} F.1\nM30\n")
    row = trace.rows()[-1]
    assert trace.faults[-1].code == "arc-impossible" or abs(row.cx) < 10**18
    assert trace.remarks[row.remark] or row.cx
