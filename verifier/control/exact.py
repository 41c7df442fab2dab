"""Roots, sines and cosines as exact fractions close to the true value, so that no verdict rests on binary rounding.

Every result lies within 1e-30 of the true value (roots: of the root in the unit of the argument); places are rounded to the nearest tick, ties to
even, only where they become the end of a move. The digits of pi are those of any table (OEIS A000796).
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache
from math import isqrt

_SCALE = 10**40
_PI = 31415926535897932384626433832795028841971
"""Pi times 10**40."""


def root(value: int | Fraction) -> Fraction:
    """The square root of a number of zero or more; ValueError below zero."""
    value = Fraction(value)
    if value < 0:
        raise ValueError("no root below zero")
    top, bottom = isqrt(value.numerator), isqrt(value.denominator)
    if top * top == value.numerator and bottom * bottom == value.denominator:
        return Fraction(top, bottom)
    return Fraction(isqrt(value.numerator * _SCALE * _SCALE // value.denominator), _SCALE)


@lru_cache(maxsize=512)
def cosine_sine(degrees: Fraction) -> tuple[Fraction, Fraction]:
    """Cosine and sine of an angle in degrees; exact at the multiples of 90 and of 45."""
    quarters = round(degrees / 90)
    rest = degrees - 90 * quarters
    if abs(rest) == 45:
        half = root(Fraction(1, 2))
        cosine, sine = half, half if rest > 0 else -half
    else:
        cosine, sine = _series(rest)
    for _ in range(quarters % 4):
        cosine, sine = -sine, cosine
    return cosine, sine


def _series(degrees: Fraction) -> tuple[Fraction, Fraction]:
    """Both by their power series, for an angle between -45 and 45 degrees."""
    angle = int(degrees * _PI / 180)
    sums, term, k = [0, 0], _SCALE, 0
    while term:
        sums[k % 2] += -term if k % 4 > 1 else term
        k += 1
        term = term * angle // (_SCALE * k)
        if term == -1:  # the floor of a vanishing negative term never becomes zero
            break
    return Fraction(sums[0], _SCALE), Fraction(sums[1], _SCALE)
