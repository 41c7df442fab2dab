"""Variables and comparisons for the oracle of the edit bench: sums and products in brackets, worked out with exact fractions.

Operators and their order: NISTIR 6556 section 3.3.2.3 (products before sums, from left to right). What is not read is no number (None).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from fractions import Fraction

Variables = Mapping[int, Fraction]
_TOKEN = re.compile(r"\s*([0-9]+\.?[0-9]*|\.[0-9]+|[-+*/\[\]#])")
_HOLDS = {
    "EQ": lambda a, b: a == b,
    "NE": lambda a, b: a != b,
    "GT": lambda a, b: a > b,
    "GE": lambda a, b: a >= b,
    "LT": lambda a, b: a < b,
    "LE": lambda a, b: a <= b,
}


class _NoNumber(Exception):
    """The text is no expression of this small kind, or a variable has no value."""


def value(text: str, variables: Variables) -> Fraction | None:
    """The value of an expression."""
    tokens = _TOKEN.findall(text)
    if "".join(tokens) != "".join(text.split()):
        return None
    try:
        found, rest = _sum(tokens, variables)
    except (_NoNumber, IndexError, ZeroDivisionError):
        return None
    return found if not rest else None


def _sum(tokens: list[str], variables: Variables) -> tuple[Fraction, list[str]]:
    total, tokens = _product(tokens, variables)
    while tokens and tokens[0] in "+-":
        part, rest = _product(tokens[1:], variables)
        total, tokens = total + part if tokens[0] == "+" else total - part, rest
    return total, tokens


def _product(tokens: list[str], variables: Variables) -> tuple[Fraction, list[str]]:
    total, tokens = _one(tokens, variables)
    while tokens and tokens[0] in "*/":
        part, rest = _one(tokens[1:], variables)
        total, tokens = total * part if tokens[0] == "*" else total / part, rest
    return total, tokens


def _one(tokens: list[str], variables: Variables) -> tuple[Fraction, list[str]]:
    first, rest = tokens[0], tokens[1:]
    if first in "+-":
        found, rest = _one(rest, variables)
        return (found if first == "+" else -found), rest
    if first == "[":
        found, rest = _sum(rest, variables)
        if not rest or rest[0] != "]":
            raise _NoNumber
        return found, rest[1:]
    if first == "#":
        number, rest = _one(rest, variables)
        if number not in variables:
            raise _NoNumber
        return variables[int(number)], rest
    if not first[0].isdigit() and first[0] != ".":
        raise _NoNumber
    return Fraction(first), rest


def holds(condition: str, variables: Variables) -> bool | None:
    """Whether a comparison `aGTb` holds."""
    found = re.fullmatch(r"(.*?)(EQ|NE|GT|GE|LT|LE)(.*)", condition)
    if found is None:
        return None
    left, right = value(found.group(1), variables), value(found.group(3), variables)
    return None if left is None or right is None else _HOLDS[found.group(2)](left, right)


def with_numbers(text: str, variables: Variables) -> str | None:
    """A block with every value behind a letter worked out; a value that was computed counts as having a point."""
    made, at = "", 0
    while at < len(text):
        found = re.compile(r"([A-Z])([-+]?)(?=[#\[])").match(text, at)
        if found is None:
            made, at = made + text[at], at + 1
            continue
        behind = _behind(text, found.end())
        number = value(text[found.start(2) : behind], variables)
        if number is None:
            return None
        made, at = made + found.group(1) + _decimal(number), behind
    return made


def _behind(text: str, at: int) -> int:
    """Where the variable or the bracket that starts here ends."""
    if text[at] == "#":
        found = re.compile(r"#[0-9]+").match(text, at)
        return found.end() if found else at + 1
    depth = 0
    for k in range(at, len(text)):
        depth += {"[": 1, "]": -1}.get(text[k], 0)
        if depth == 0:
            return k + 1
    return len(text)


def _decimal(number: Fraction) -> str:
    """With a point and eight decimals: far finer than a control's."""
    scaled = round(abs(number) * 10**8)
    return f"{'-' if number < 0 else ''}{scaled // 10**8}.{scaled % 10**8:08d}"
