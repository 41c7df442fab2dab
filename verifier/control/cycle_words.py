"""Words of canned cycles as amounts: in ticks for the expansion, in shop names and units for people."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from verifier.control.context import Context
from verifier.control.instruction import Instruction, canonical
from verifier.control.numbers import length, smallest_units
from verifier.control.trace import TICKS_PER_MM, Amount, millimetres
from verifier.syntax import Word


class CycleRefused(Exception):
    """The cycle cannot be expanded from its words: a code for the fault (or none) and the reason. Caught where the cycle was called."""

    def __init__(self, code: str, reason: str, text: str = "") -> None:
        super().__init__(reason)
        self.code = code
        self.reason = reason
        self.text = text


@dataclass(slots=True)
class Amounts:
    """Reads the words of one cycle block and remembers what each meant."""

    ctx: Context
    ins: Instruction
    named: dict[str, Amount] = field(default_factory=dict)

    def _word(self, letter: str) -> Word | None:
        word = self.ins.take(letter)
        if word is not None and word.number is None:
            raise CycleRefused("", f"{canonical([word])}: the value is one that only the machine knows")
        return word

    def length(self, letter: str, name: str, *, diameter: bool = False) -> int | None:
        """A length word in ticks (a radius amount; a diameter amount is halved); None where the word is missing."""
        word = self._word(letter)
        if word is None or word.number is None:
            return None
        if not word.number.pointed and word.number.mantissa:
            self.ctx.assume("number-without-point")
        ticks = length(word.number, self.ctx.units, self.ctx.machine)
        self.note(name, ticks)
        return self.ctx.radius(ticks) if diameter else ticks

    def smallest(self, letter: str, name: str) -> int | None:
        """A word that is a whole number of least increments, in ticks; with a point it is refused."""
        word = self._word(letter)
        if word is None or word.number is None:
            return None
        if word.number.pointed:
            raise CycleRefused(
                "integer-word-with-point",
                f"{word.text} must be a whole number of least increments, without a point",
                word.text,
            )
        ticks = smallest_units(word.number, self.ctx.units, self.ctx.machine)
        self.note(name, ticks)
        return ticks

    def whole(self, letter: str, name: str) -> int | None:
        """A plain whole number (a label, a count)."""
        word = self._word(letter)
        if word is None or word.number is None:
            return None
        if word.number.value.denominator != 1:
            raise CycleRefused("integer-word-with-point", f"{word.text} must be a whole number", word.text)
        if word.number.pointed:
            self.ctx.fault("integer-word-with-point", f"{word.text} must be a whole number, without a point", word.text)
        if name:
            self.named[name] = Amount(word.number.value, "")
        return int(word.number.value)

    def one_block(self, letter: str, name: str) -> int | None:
        """D of the one-block forms: a length like any other, or least increments, as the profile says."""
        word = self._word(letter)
        if word is None or word.number is None:
            return None
        plain = not word.number.pointed and self.ctx.assume("d-of-one-block-cycles") == "least-increments"
        reader = smallest_units if plain else length
        ticks = reader(word.number, self.ctx.units, self.ctx.machine)
        self.note(name, ticks)
        return ticks

    def note(self, name: str, ticks: int) -> None:
        """Remember an amount for people."""
        self.named[name] = Amount(millimetres(ticks), "mm")

    def number(self, name: str, value: Fraction | int, unit: str) -> None:
        """Remember an amount that is no length."""
        self.named[name] = Amount(Fraction(value), unit)


def needed(value: int | None, what: str) -> int:
    """The value, or the refusal of a cycle that was called without it."""
    if value is None:
        raise CycleRefused("cycle-amount-missing", f"the cycle was called without its {what}")
    return value


def parameter(amounts: Amounts, value: Fraction | None, name: str, code: str) -> int | None:
    """A control parameter in ticks, said to be assumed where nobody verified it."""
    if value is None:
        return None
    ctx = amounts.ctx
    if not ctx.machine.is_verified("cycle-parameters"):
        ctx.record.unknown(
            f"{name} of {code}",
            f"taken from the machine profile ({float(value):g} mm), which nobody verified",
            ctx.block,
        )
    ticks = round(value * TICKS_PER_MM)
    amounts.note(name, ticks)
    return ticks


def dwell_milliseconds(amounts: Amounts, letter: str) -> int | None:
    """A dwell word in whole thousandths of a second; None where it is missing."""
    word = amounts.ins.words.get(letter)
    in_seconds = word is not None and word.number is not None and word.number.pointed
    if in_seconds and amounts.ctx.assume("dwell-p-with-point") == "seconds":
        assert word is not None and word.number is not None
        amounts.ins.take(letter)
        found: int | None = round(word.number.value * 1000)
    else:
        found = amounts.whole(letter, "")
    if found is not None and found < 0:
        raise CycleRefused("amount-negative", f"{letter}{found}: a dwell below zero")
    if found is not None:
        amounts.number("dwell", Fraction(found, 1000), "s")
    return found
