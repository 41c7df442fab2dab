"""One number from its text: exact digits, sign, and whether it had a point; for many at a time see columns."""

from __future__ import annotations

from verifier.syntax.words import Number

DIGIT_LIMIT = 40
"""Digits in one number; no control reads nearly as many, and Python refuses to convert some thousands."""


def read_number(text: str) -> Number:
    """The number of a text of the form `[+-]*digits[.digits]` in ASCII; ValueError for more than `DIGIT_LIMIT` digits."""
    digits = text.lstrip("+-")
    whole, point, part = digits.partition(".")
    if len(whole) + len(part) > DIGIT_LIMIT:
        raise ValueError(f"a number of {len(whole) + len(part)} digits")
    mantissa = int(whole + part)
    return Number(text, -mantissa if text.startswith("-") else mantissa, len(part) if point else -1)


def canonical_number(number: Number) -> str:
    """One spelling for a value and whether it had a point: `25.` for `25.000`, `+25.0`; `25` for `025`; never `-0`."""
    if number.decimals < 0:
        return str(number.mantissa)
    digits = str(abs(number.mantissa)).rjust(number.decimals + 1, "0")
    cut = len(digits) - number.decimals
    sign = "-" if number.mantissa < 0 else ""
    return f"{sign}{digits[:cut]}.{digits[cut:].rstrip('0')}"
