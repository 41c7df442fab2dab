"""Blocks as text: how numbers, codes, spaces, notes and line ends are written."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal
from random import Random


@dataclass(frozen=True, slots=True)
class Look:
    """How the same words are written."""

    lower: bool = False
    spaces: str = "one"
    """ "one", "none", "many" or "tabs"."""
    zeros: str = "plain"
    """ "plain", "short" (no zero that is not needed) or "long"."""
    codes: str = "two"
    """ "two" (G01), "one" (G1)."""
    numbers: tuple[int, int] | None = None
    """First block number and step for blocks that carry no search number or label of their own."""
    relabel: int = 0
    """What is added to the labels of contours, and to the P and Q that name them."""
    notes: float = 0
    blanks: float = 0
    line_end: str = "\n"
    percent: bool = True
    plus: bool = False


@dataclass(frozen=True, slots=True)
class Word:
    """A letter and its value: "code", "whole" (no point), "length", "feed", "speed" (a decimal), "increments" (a length in least increments)."""

    letter: str
    value: Decimal | int
    kind: str


@dataclass(slots=True)
class Line:
    """One block before it is text. `tag` says which operation it belongs to: (sequence, index) or a name."""

    words: list[Word]
    tag: tuple[object, ...]
    number: int | None = None
    skip: int | None = None
    note: str = ""
    fixed: bool = False
    """Whether its order of words must stay."""


_SPACES = {"one": " ", "none": "", "many": "   ", "tabs": "\t"}
_NOTES = ("CHECK THE EDGE", "AIR ON", "SWARF", "EASY HERE", "AS BEFORE")


def text_of(made: list[Line], look: Look, seed: int = 0) -> bytes:
    """Blocks as bytes."""
    random = Random(seed + 1)
    rows = ["%"] if look.percent else []
    number = look.numbers[0] if look.numbers else 0
    for line in made:
        if look.blanks and random.random() < look.blanks:
            rows.append("")
        if look.notes and random.random() < look.notes:
            rows.append(f"({random.choice(_NOTES)})")
        if line.note and line.number is not None and line.number > 0:
            rows.append(f"({line.note})")
        own = line.number
        if own is None and look.numbers and not line.fixed and line.tag[0] != "head":
            own, number = number, number + look.numbers[1]
        row = block_text(line, look, own)
        if line.note and (line.number is None or line.number < 0):
            row += f" ({line.note})"
        if look.notes and random.random() < look.notes:
            row += f" ({random.choice(_NOTES)})"
        rows.append(row.lower() if look.lower else row)
    rows += ["%"] if look.percent else []
    return (look.line_end.join(rows) + look.line_end).encode("ascii")


def block_text(line: Line, look: Look, number: int | None) -> str:
    """One block as text; `number` is its block number, negative for a contour's label."""
    words = [word_text(word, look) for word in line.words]
    if number is not None:
        words.insert(0, f"N{number if number > 0 else look.relabel - number}")
    mark = "" if line.skip is None else "/" if line.skip == 0 else f"/{line.skip}"
    gap = " " if mark and look.spaces == "none" and line.skip else ""
    return mark + gap + _SPACES[look.spaces].join(words)


def word_text(word: Word, look: Look) -> str:
    """One word as text."""
    value = word.value
    if word.kind == "code":
        return f"{word.letter}{value:02d}" if look.codes == "two" else f"{word.letter}{value}"
    if word.kind == "tool":
        return f"T{value:04d}"
    if word.kind == "six":
        return f"{word.letter}{value:06d}"
    if word.kind == "whole":
        return f"{word.letter}{value}"
    if word.kind == "label":
        return f"{word.letter}{value + look.relabel}"
    return word.letter + number_text(Decimal(value), look, whole=word.kind == "speed")


def number_text(value: Decimal, look: Look, *, whole: bool = False) -> str:
    """A decimal number with its point (a whole speed without it)."""
    sign = "-" if value < 0 else "+" if look.plus else ""
    digits = f"{abs(value):f}"
    before, _, after = digits.partition(".")
    after = after.rstrip("0")
    before = before.lstrip("0")
    if whole and not after:
        return sign + (before or "0")
    if look.zeros == "short":
        return sign + (f"{before}.{after}" if before or after else "0.")
    if look.zeros == "long":
        return f"{sign}0{before or ''}.{after}00"
    return f"{sign}{before or '0'}.{after}"


def shuffle_words(made: list[Line], seed: int) -> list[Line]:
    """The same blocks with their words in another order (number and skip mark stay in front)."""
    random = Random(seed)
    return [line if line.fixed else replace(line, words=random.sample(line.words, len(line.words))) for line in made]
