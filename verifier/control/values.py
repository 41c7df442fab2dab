"""Values of variables: an exact number, nothing (unset), or a symbol for what only the machine knows.

A symbol is a sum: a number and other unknowns by name, each with a factor. Equal sums are equal symbols, so that an unknown goes through arithmetic
and comes out the same in two programs; what is no sum of unknowns becomes an unknown with the text of its expression.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from hashlib import blake2b

_LONGEST = 200
_TERMS = 12
_BITS = 300
"""A factor or a number of a sum that needs more bits is of no use to anybody: the sum is then an unknown of its own."""


@dataclass(frozen=True, slots=True)
class Symbol:
    """A number and at least one unknown: `terms` are names with their factors, in order of name, no factor zero."""

    terms: tuple[tuple[str, Fraction], ...]
    constant: Fraction = Fraction(0)

    @property
    def text(self) -> str:
        """The sum as comparable text: "#500*2+1.5"."""
        parts = "".join(_term(name, factor) for name, factor in self.terms)
        if self.constant:
            parts += ("+" if self.constant > 0 else "") + shown(self.constant)
        return parts.removeprefix("+")

    @property
    def unknown(self) -> Symbol:
        """The same without its number."""
        return Symbol(self.terms)


Value = Fraction | Symbol | None
"""None is an unset variable."""


def symbol(name: str) -> Symbol:
    """The unknown of this name; a very long name is cut, and kept apart from others by a digest."""
    if len(name) > _LONGEST:
        name = f"{name[:_LONGEST]}~{blake2b(name.encode(), digest_size=6).hexdigest()}"
    return Symbol(((name, Fraction(1)),))


def shown(value: Fraction) -> str:
    """A number for people and for comparison: decimals where they end, else a fraction."""
    if value.denominator == 1:
        return str(value.numerator)
    twos, fives, rest = 0, 0, value.denominator
    while rest % 2 == 0:
        rest, twos = rest // 2, twos + 1
    while rest % 5 == 0:
        rest, fives = rest // 5, fives + 1
    if rest != 1:
        return str(value)
    places = max(twos, fives)
    digits = str(abs(value.numerator) * 10**places // value.denominator).rjust(places + 1, "0")
    return f"{'-' if value < 0 else ''}{digits[:-places]}.{digits[-places:]}"


def value_text(value: Value) -> str:
    """Any value as comparable text."""
    return "unset" if value is None else shown(value) if isinstance(value, Fraction) else value.text


def plus(one: Fraction | Symbol, other: Fraction | Symbol) -> Fraction | Symbol:
    """The sum of two values."""
    terms: dict[str, Fraction] = {}
    constant = Fraction(0)
    for value in (one, other):
        if isinstance(value, Fraction):
            constant += value
            continue
        constant += value.constant
        for name, factor in value.terms:
            terms[name] = terms.get(name, Fraction(0)) + factor
    left = tuple(sorted((name, factor) for name, factor in terms.items() if factor))
    if not left:
        return constant
    return _bounded(Symbol(left, constant))


def times(one: Fraction | Symbol, factor: Fraction) -> Fraction | Symbol:
    """A value times a number."""
    if isinstance(one, Fraction):
        return one * factor
    if not factor:
        return Fraction(0)
    return _bounded(Symbol(tuple((name, f * factor) for name, f in one.terms), one.constant * factor))


def _bounded(found: Symbol) -> Symbol:
    """A sum as it is, or as one unknown where a loop made it longer or finer than anything is computed with."""
    sizes = (found.constant, *(factor for _, factor in found.terms))
    fine = any(max(size.numerator.bit_length(), size.denominator.bit_length()) > _BITS for size in sizes)
    return symbol(f"[{found.text}]") if fine or len(found.terms) > _TERMS else found


def minus(one: Fraction | Symbol, other: Fraction | Symbol) -> Fraction | Symbol:
    """The difference of two values."""
    return plus(one, times(other, Fraction(-1)))


def _term(name: str, factor: Fraction) -> str:
    sign = "-" if factor < 0 else "+"
    size = abs(factor)
    return f"{sign}{name}" + ("" if size == 1 else f"*{shown(size)}")
