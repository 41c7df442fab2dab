"""Functions of the macro language on exact rationals: each gives a rational that is the true value, or the true value rounded.

The rule: an irrational result is computed with 60 decimals or more and rounded to 40 decimals (ties to even). Lengths are whole ticks (8 decimals
of a millimetre), so no verdict rests on that rounding; sines of 30 degrees and the like come out exact. Angles are degrees.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import Context as Precision
from decimal import Decimal
from fractions import Fraction
from math import isqrt

DECIMALS = 40
"""Decimals that are kept of an irrational result."""

GREATEST = Fraction(10**47)
"""No control holds a greater number; from memory. What would be greater is a fault."""

_WORK = 70
_ONE: int = 10**_WORK
_BITS = 600


class Impossible(Exception):
    """The expression has no value: the reason, for a fault. Caught where the expression was evaluated."""


def kept(value: Fraction) -> Fraction:
    """A result as it is kept: exact, or where its denominator grew past any use rounded to 40 decimals; too great a value is refused."""
    if abs(value) > GREATEST:
        raise Impossible("the result is greater than a control can hold")
    return rounded(value) if value.denominator.bit_length() > _BITS else value


def rounded(value: Fraction, decimals: int = DECIMALS) -> Fraction:
    """A value rounded to so many decimals, ties to even."""
    return Fraction(round(value * 10**decimals), 10**decimals)


def nearest(value: Fraction) -> int:
    """The nearest whole number, halves away from zero (common practice, no source)."""
    whole: int = (2 * abs(value.numerator) + value.denominator) // (2 * value.denominator)
    return whole if value >= 0 else -whole


def toward_zero(value: Fraction) -> int:
    """The whole part, dropped toward zero."""
    whole: int = abs(value.numerator) // value.denominator
    return -whole if value < 0 else whole


def away_from_zero(value: Fraction) -> int:
    """The next whole number away from zero, where there is a part."""
    whole: int = -(-abs(value.numerator) // value.denominator)
    return -whole if value < 0 else whole


def square_root(value: Fraction) -> Fraction:
    """The root; exact where it is rational. Impossible below zero."""
    if value < 0:
        raise Impossible("the square root of a number below zero")
    top, bottom = isqrt(value.numerator), isqrt(value.denominator)
    if top * top == value.numerator and bottom * bottom == value.denominator:
        return Fraction(top, bottom)
    return rounded(_root(value))


def _root(value: Fraction) -> Fraction:
    return Fraction(isqrt(value.numerator * _ONE * _ONE // value.denominator), _ONE)


def exponential(value: Fraction) -> Fraction:
    """The number e to the power of the value."""
    if value > 109:
        raise Impossible("the result is greater than a control can hold")
    if value < -200:
        return Fraction(0)
    precise = Precision(prec=_WORK + 50)
    return rounded(Fraction(precise.exp(_decimal(value, precise))))


def logarithm(value: Fraction) -> Fraction:
    """The natural logarithm; Impossible at zero and below."""
    if value <= 0:
        raise Impossible("the logarithm of a number that is not above zero")
    precise = Precision(prec=_WORK + 50)
    return rounded(Fraction(precise.ln(_decimal(value, precise))))


def power(base: Fraction, exponent: Fraction) -> Fraction:
    """A power; exact for a whole exponent."""
    if exponent.denominator == 1 and abs(exponent) <= 10_000:
        if base == 0 and exponent < 0:
            raise Impossible("zero to a power below zero")
        size = max(base.numerator.bit_length(), base.denominator.bit_length())
        if size * abs(exponent.numerator) <= 4096:
            return kept(base**exponent.numerator)
    if base == 0:
        if exponent <= 0:
            raise Impossible("zero to a power that is not above zero")
        return Fraction(0)
    if base < 0:
        if exponent.denominator != 1:
            raise Impossible("a number below zero to a power that is not whole")
        sign = -1 if exponent.numerator % 2 else 1
        return sign * exponential(logarithm(-base) * exponent)
    return exponential(logarithm(base) * exponent)


def _decimal(value: Fraction, precise: Precision) -> Decimal:
    return precise.divide(Decimal(value.numerator), Decimal(value.denominator))


# -- angles -----------------------------------------------------------------------------------------------------------------


def _pi() -> int:
    """Pi in units of 10**-70: 16 arctan(1/5) - 4 arctan(1/239)."""
    guard: int = 10**10

    def arctan_of_one_over(k: int) -> int:
        term = total = _ONE * guard // k
        n = 1
        while term:
            term //= -k * k
            n += 2
            total += term // n
        return total

    return (16 * arctan_of_one_over(5) - 4 * arctan_of_one_over(239)) // guard


_PI = _pi()


def sine(degrees: Fraction) -> Fraction:
    """The sine of an angle."""
    turn = degrees % 360
    if turn >= 180:
        return -sine(turn - 180)
    if turn > 90:
        turn = 180 - turn
    return rounded(Fraction(_sine(turn) if turn <= 45 else _cosine(90 - turn), _ONE))


def cosine(degrees: Fraction) -> Fraction:
    """The cosine of an angle."""
    return sine(degrees + 90)


def tangent(degrees: Fraction) -> Fraction:
    """The tangent; Impossible at 90 degrees and there again."""
    if degrees % 180 == 90:
        raise Impossible("the tangent of a right angle")
    turn = degrees % 180
    if turn > 90:
        return -tangent(180 - turn)
    small = turn <= 45
    angle = turn if small else 90 - turn
    one, other = _sine(angle), _cosine(angle)
    value = rounded(Fraction(one, other) if small else Fraction(other, one))
    if abs(value) > GREATEST:
        raise Impossible("the result is greater than a control can hold")
    return value


def _radians(degrees: Fraction) -> int:
    return int(degrees * _PI / 180)


def _series(first: int, square: int, n: int) -> int:
    """Sum of first - first*square/((n+1)(n+2)) + ... in units of 10**-70."""
    total = term = first
    while term:
        term = -term * square // _ONE // ((n + 1) * (n + 2))
        if term == -1:
            break
        n += 2
        total += term
    return total


def _sine(degrees: Fraction) -> int:
    x = _radians(degrees)
    return _series(x, x * x // _ONE, 1)


def _cosine(degrees: Fraction) -> int:
    x = _radians(degrees)
    return _series(_ONE, x * x // _ONE, 0)


def arc_tangent(value: Fraction) -> Fraction:
    """The angle between -90 and 90 degrees that has this tangent."""
    if value < 0:
        return -arc_tangent(-value)
    if value > 1:
        return rounded(90 - _arc(1 / value))
    return rounded(_arc(value))


def arc_tangent_of_two(up: Fraction, along: Fraction) -> Fraction:
    """The angle above -180 and up to 180 degrees of a point; Impossible where both are zero."""
    if along > 0:
        return arc_tangent(up / along)
    if along < 0:
        angle = arc_tangent(up / along)
        return angle - 180 if up < 0 else angle + 180
    if up == 0:
        raise Impossible("the angle of a point at the centre")
    return Fraction(90 if up > 0 else -90)


def arc_sine(value: Fraction) -> Fraction:
    """The angle between -90 and 90 degrees that has this sine; Impossible beyond one."""
    if abs(value) > 1:
        raise Impossible("the arcus of a number greater than one")
    return arc_tangent_of_two(value, _root(1 - value * value)) if value else Fraction(0)


def arc_cosine(value: Fraction) -> Fraction:
    """The angle between 0 and 180 degrees that has this cosine; Impossible beyond one."""
    if abs(value) > 1:
        raise Impossible("the arcus of a number greater than one")
    return arc_tangent_of_two(_root(1 - value * value), value)


def _arc(value: Fraction) -> Fraction:
    """The arcus tangent in degrees of a value from 0 to 1: halved three times, then its series."""
    x = value.numerator * _ONE // value.denominator
    for _ in range(3):
        root = isqrt(_ONE * _ONE + x * x)
        x = x * _ONE // (_ONE + root)
    square, term, total, n = x * x // _ONE, x, x, 1
    while term:
        term = term * square // _ONE
        n += 2
        total += -term // n if n % 4 == 3 else term // n
    return Fraction(8 * total * 180, _PI)


# -- numbers in four bits a digit -----------------------------------------------------------------------------------------------


def from_digits(value: Fraction) -> Fraction:
    """BIN: a number whose decimal digits stand in four bits each, as a plain number."""
    number = _whole_not_negative(value)
    if any(digit > 9 for digit in _fours(number)):
        raise Impossible("a number that is not written in four bits a digit")
    return Fraction(int(f"{number:x}"))


def to_digits(value: Fraction) -> Fraction:
    """BCD: a plain number with each of its decimal digits in four bits."""
    return Fraction(int(str(_whole_not_negative(value)), 16))


def _fours(number: int) -> list[int]:
    return [int(digit, 16) for digit in f"{number:x}"]


def _whole_not_negative(value: Fraction) -> int:
    if value.denominator != 1 or value < 0:
        raise Impossible("BIN and BCD want a whole number not below zero")
    return value.numerator


FUNCTIONS: dict[str, Callable[[Fraction], Fraction]] = {
    "SIN": sine,
    "COS": cosine,
    "TAN": tangent,
    "ASIN": arc_sine,
    "ACOS": arc_cosine,
    "SQRT": square_root,
    "ABS": abs,
    "ROUND": lambda value: Fraction(nearest(value)),
    "LN": logarithm,
    "EXP": exponential,
    "BIN": from_digits,
    "BCD": to_digits,
}
"""Functions of one argument whose meaning is no choice of the profile's (FIX, FUP and the arcus functions are partly)."""
