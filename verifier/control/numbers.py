"""How this machine reads the number of a word: lengths to ticks, feeds, speeds and dwells to exact rationals.

Source of the rules: common practice for numbers with and without a point (least increments or whole units, by the profile).
"""

from __future__ import annotations

from fractions import Fraction

from verifier.control.trace import TICKS_PER_INCH, TICKS_PER_MM
from verifier.machines import Machine
from verifier.syntax import Number

_TICKS = {"mm": TICKS_PER_MM, "inch": TICKS_PER_INCH}
MM_PER_INCH = Fraction(127, 5)
METRES_PER_FOOT = Fraction(381, 1250)


def least_increment(machine: Machine, units: str) -> int:
    """One least input increment in ticks."""
    increment = machine.increments.mm if units == "mm" else machine.increments.inch
    return _whole(increment * _TICKS[units])


def length(number: Number, units: str, machine: Machine) -> int:
    """A length word in ticks: with a point as written, without one as the profile says."""
    per_unit = _TICKS[units]
    if not number.pointed:
        if machine.choice("number-without-point") == "whole-units":
            return number.mantissa * per_unit
        return number.mantissa * least_increment(machine, units)
    if number.decimals <= 7:
        return number.mantissa * (per_unit // int(10**number.decimals))
    return _whole(number.value * per_unit)


def smallest_units(number: Number, units: str, machine: Machine) -> int:
    """A word that is always a whole number of least increments (P and Q of the multi-block cycles), in ticks."""
    return number.mantissa * least_increment(machine, units)


def feed(number: Number, units: str | None, mode: str | None, machine: Machine) -> Fraction:
    """A feed in mm/rev or mm/min (a number without a point by the profile's feed increment)."""
    value = number.value
    if not number.pointed and machine.choice("feed-without-point") == "own-increment":
        value *= machine.feed_increments[mode or "per-revolution"][units or "mm"]
    return value * (MM_PER_INCH if units == "inch" else 1)


def lead(number: Number, units: str | None, machine: Machine) -> Fraction:
    """A thread lead in mm: read as a feed per revolution."""
    return feed(number, units, "lead", machine)


def speed(number: Number, units: str | None, mode: str | None) -> Fraction:
    """A spindle word: rev/min, or m/min of surface speed (feet per minute in inch)."""
    value = number.value
    return value * METRES_PER_FOOT if mode == "surface" and units == "inch" else value


def seconds(number: Number, letter: str, machine: Machine, units: str) -> Fraction:
    """A dwell in seconds: P in whole milliseconds; X and U in seconds, without a point in thousandths as the increments say."""
    if letter == "P":
        return number.value / 1000
    if number.pointed or machine.choice("number-without-point") == "whole-units":
        return number.value
    return number.value * (machine.increments.mm if units == "mm" else machine.increments.inch * 10)


def _whole(value: Fraction) -> int:
    """The nearest whole number of ticks (ties to even)."""
    return round(value)


def finer_than_increment(number: Number, units: str, machine: Machine) -> bool:
    """Whether a pointed number has more digits than one least increment holds."""
    return number.pointed and length(number, units, machine) % least_increment(machine, units) != 0
