"""Every address as it is read with a point, without one, in millimetres and in inches, against the number rules of the trade.

Sources: a manual's reading of X123.45 and X12345 (three increment systems); P and Q of the multi-cycles, P of a dwell and labels without a
point, read in course texts; the sizes of the increments of feeds and dwells are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from typing import NamedTuple

import pytest

from tests.control.running import MM, codes, events, machine, run, state_of
from verifier.control import Trace
from verifier.machines import Increments, Machine, generic_lathe
from verifier.report import review

START = "G99 G97 S500 M03\nG00 X62. Z2.\n"
INCH = Fraction(254, 10)


class Address(NamedTuple):
    """A word in its place, what it became (mm, seconds, degrees or a count), and what one unit without a point is in either unit system.

    `whole`: also where whole units are read the number counts as `least`; `scaled`: inches are turned into millimetres.
    """

    words: str
    read: Callable[[Trace], Fraction]
    least: tuple[str, str]
    whole: bool = False
    scaled: bool = True
    pointed: bool = True


def _amount(name: str) -> Callable[[Trace], Fraction]:
    return lambda trace: trace.cycles[-1].amounts[name].value


def _end(axis: str) -> Callable[[Trace], Fraction]:
    scale = 2 if axis == "x" else 1
    return lambda trace: Fraction(scale * getattr(trace.rows()[-1], f"{axis}1"), MM)


def _step(axis: str) -> Callable[[Trace], Fraction]:
    scale = 2 if axis == "x" else 1

    def read(trace: Trace) -> Fraction:
        row = trace.rows()[-1]
        return Fraction(scale * (getattr(row, f"{axis}1") - getattr(row, f"{axis}0")), MM)

    return read


def _state(name: str) -> Callable[[Trace], Fraction]:
    return lambda trace: Fraction(getattr(state_of(trace), name))


def _dwell(trace: Trace) -> Fraction:
    return Fraction(events(trace, "dwell")[0].split()[0])


def _level(trace: Trace) -> Fraction:
    return _amount("R level")(trace) - 2 * (INCH if trace.end_units == "inch" else 1)


def _passes(trace: Trace) -> Fraction:
    return Fraction(sum(trace.steps[row.step].endswith("approach") for row in trace.rows()))


_LENGTH = ("0.001", "0.0001")
_CONTOUR = "\nN10 G00 X61.9\nG01 Z-1.\nN20 X61.95"
ADDRESSES = {
    "X": Address("G00 X{}", _end("x"), _LENGTH),
    "Z": Address("G00 Z{}", _end("z"), _LENGTH),
    "U": Address("G00 U{}", _step("x"), _LENGTH),
    "W": Address("G00 W{}", _step("z"), _LENGTH),
    "taper R": Address("G90 X0. Z-1. R{} F.1", _amount("taper"), _LENGTH),
    "allowance U": Address("G71 U2. R1.\nG71 P10 Q20 U{}" + _CONTOUR, _amount("finish allowance in X"), _LENGTH),
    "allowance W": Address("G71 U2. R1.\nG71 P10 Q20 W{}" + _CONTOUR, _amount("finish allowance in Z"), _LENGTH),
    "depth U": Address("G71 U{} R1.\nG71 P10 Q20" + _CONTOUR, _amount("depth of cut"), _LENGTH),
    "peck P": Address("G75 R.0001\nG75 X61.9 P{} F.1", _amount("peck"), _LENGTH, whole=True, pointed=False),
    "step Q": Address("G75 R.01\nG75 X61. Z1.9 P90000 Q{} F.1", _amount("step"), _LENGTH, whole=True, pointed=False),
    "peck Q of a hole": Address("G83 Z1.9 Q{} F.1", _amount("peck"), _LENGTH),
    "R level": Address("G83 Z-90. R{} F.1", _level, _LENGTH),
    "thread height P": Address("G76 P010060 Q1 R0\nG76 X60. Z-1. P{} Q99999 F.1", _amount("thread height"), _LENGTH, whole=True, pointed=False),
    "feed per revolution": Address("G99 G01 Z1. F{}", _state("feed"), ("0.01", "0.0001")),
    "feed per minute": Address("G98 G01 Z1. F{}", _state("feed"), ("1", "0.01")),
    "lead": Address("G32 Z1. F{}", _state("feed"), ("0.0001", "0.000001")),
    "change of lead K": Address("G34 Z1. F10. K{}", _state("lead_change"), _LENGTH),
    "dwell P": Address("G04 P{}", _dwell, ("0.001", "0.001"), whole=True, scaled=False, pointed=False),
    "dwell X": Address("G04 X{}", _dwell, ("0.001", "0.001"), scaled=False),
    "dwell U": Address("G04 U{}", _dwell, ("0.001", "0.001"), scaled=False),
    "speed": Address("G97 S{} G01 Z1. F.1", _state("speed"), ("1", "1"), whole=True, scaled=False),
    "clamp": Address("G50 S{}\nG96 S100 G01 Z1. F.1", _state("clamp"), ("1", "1"), whole=True, scaled=False),
    "start angle Q": Address("G32 Z1. F1. Q{}", _state("start_angle"), ("0.001", "0.001"), whole=True, scaled=False, pointed=False),
    "passes": Address(
        "G73 U1. W1. R{}\nG73 P10 Q20" + _CONTOUR, _passes, ("1", "1"), whole=True, scaled=False, pointed=False
    ),
    "holes K": Address("G83 Z-9. K{} F.1", _amount("holes"), ("1", "1"), whole=True, scaled=False, pointed=False),
}  # fmt: skip


def lathe(reading: str) -> Machine:
    """Both kinds of number without a point read alike."""
    feed = "own-increment" if reading == "least-increments" else "whole-units"
    return machine({"number-without-point": reading, "feed-without-point": feed})


@pytest.mark.parametrize("units", ["G21", "G20"])
@pytest.mark.parametrize("name", ADDRESSES)
def test_a_number_without_a_point_counts_its_own_increment_and_with_one_whole_units(name: str, units: str) -> None:
    address = ADDRESSES[name]
    scale = INCH if units == "G20" and address.scaled else Fraction(1)
    least = Fraction(address.least[units == "G20"])
    for text, value in (("3", 3), ("003", 3), ("+3", 3)):
        for reading, one in (("least-increments", least), ("whole-units", least if address.whole else Fraction(1))):
            trace = run(f"{units} {START}{address.words.format(text)}\nM30\n", lathe(reading))
            assert address.read(trace) == value * one * scale, (text, reading)
    if address.pointed:
        for text, exact in (("3.", "3"), ("+3.", "3"), (".5", "0.5"), ("0.50", "0.5"), ("00003.0", "3")):
            trace = run(f"{units} {START}{address.words.format(text)}\nM30\n", lathe("least-increments"))
            assert address.read(trace) == Fraction(exact) * scale, text


@pytest.mark.parametrize("name", [name for name, address in ADDRESSES.items() if not address.pointed])
def test_words_that_never_take_a_point_are_told_where_they_have_one(name: str) -> None:
    trace = run(f"G21 {START}{ADDRESSES[name].words.format('3.')}\nM30\n", lathe("least-increments"))
    assert "integer-word-with-point" in codes(trace)


@pytest.mark.parametrize("words", ["G71 U2. R1.\nG71 P10. Q20", "G70 P10 Q20.", "M98 P1000.", "G76 P010060. Q1 R0"])
def test_labels_and_packed_numbers_never_take_a_point(words: str) -> None:
    trace = run(f"G21 {START}{words}{_CONTOUR}\nM30\n", lathe("least-increments"))
    assert "integer-word-with-point" in codes(trace) or trace.unchecked


@pytest.mark.parametrize(
    ("increment", "value"),
    [("0.001", "12.345"), ("0.01", "123.45"), ("1", "12345")],
    ids=["micrometre", "ten", "whole"],
)
def test_the_three_readings_that_a_manual_prints(increment: str, value: str) -> None:
    """X12345 at increments of 1 and 10 micrometres and in whole units; X123.45 is 123.450 in all: read in a manual."""
    on = replace(generic_lathe(), increments=Increments(Fraction(increment), Fraction(1, 10000)))
    x = [Fraction(2 * run(f"G21 G00 {word} Z0.\nM30\n", on).rows()[0].x1, MM) for word in ("X12345", "X123.45")]
    assert x == [Fraction(value), Fraction("123.45")]


@pytest.mark.parametrize(("units", "factor"), [("G21", 1000), ("G20", 10_000)])
def test_the_decimal_trap_is_a_thousand_or_ten_thousand_times_and_critical(units: str, factor: int) -> None:
    """X10 against X10.: a thousand times in millimetres, ten thousand in inches, nothing where whole units are read."""
    text = f"O1\nN1 {units} G00 G40 G97 G99\nT0101\nS800 M03\nG00 X12. Z2.\nG01 X{{}} F.1\nG00 X20. Z50.\nM05\nM30\n"
    least, whole = lathe("least-increments"), lathe("whole-units")
    lost, kept = (run(text.format(word), least).rows()[1].x1 for word in ("10", "10."))
    assert kept == factor * lost
    found = review(text.format("10").encode(), text.format("10.").encode(), machine=least).findings
    assert [f.weight.value for f in found if f.rule == "decimal-point-lost"] == ["critical"]
    assert review(text.format("10").encode(), text.format("10.").encode(), machine=whole).verdict == "same behaviour"
