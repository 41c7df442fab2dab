"""A program as lines of words, cut apart without the product: letters, numbers, and where they stand."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

_PART = re.compile(r"\([^)]*\)?|;.*|([A-Za-z])[ \t]*([-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+))|[ \t]+|.", re.DOTALL)
_MACRO = re.compile(r"[#\[\]=]|GOTO|WHILE|\bIF\b|\bEND\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Word:
    """A word of a line: its letter in upper case, its number as written, and where it stands in the line."""

    letter: str
    number: str
    start: int
    end: int

    @property
    def value(self) -> Fraction:
        return Fraction(self.number)

    @property
    def pointed(self) -> bool:
        return "." in self.number

    @property
    def code(self) -> str:
        """A code with its number plainly written: G01, G54.1, M30."""
        whole, _, part = self.number.lstrip("+-").partition(".")
        minus = "-" if self.number[0] == "-" else ""
        return f"{self.letter}{minus}{int(whole or 0):02d}" + (f".{part}" if part.strip("0") else "")


@dataclass(frozen=True, slots=True)
class Line:
    """One line: its words in order; whether it is made of plain words, notes and blanks only; whether a skip mark opens it."""

    text: str
    words: tuple[Word, ...]
    plain: bool
    skip: bool
    notes: tuple[str, ...]

    def has(self, *codes: str) -> bool:
        return any(word.code in codes for word in self.words if word.letter in "GM")

    def word(self, letters: str) -> Word | None:
        """The last word with one of these letters."""
        return next((word for word in reversed(self.words) if word.letter in letters), None)

    def without(self, *gone: Word) -> str:
        """The line's text without these words."""
        text = self.text
        for word in sorted(gone, key=lambda w: -w.start):
            text = text[: word.start] + text[word.end :]
        return text

    def with_number(self, word: Word, number: str) -> str:
        """The line's text with another number in one word."""
        return self.text[: word.start] + word.letter + number + self.text[word.end :]

    def with_text(self, word: Word, text: str) -> str:
        return self.text[: word.start] + text + self.text[word.end :]


def line_of(text: str) -> Line:
    """Cut one line apart."""
    words, notes, plain, skip = [], [], True, False
    for found in _PART.finditer(text):
        part = found.group()
        if found.group(1):
            words.append(Word(found.group(1).upper(), found.group(2), found.start(), found.end()))
        elif part.startswith(("(", ";")):
            notes.append(part)
        elif part == "/" and not words:
            skip = True
        elif not part.isspace():
            plain = False
    bare = re.sub(r"\([^)]*\)?|;.*", " ", text)
    return Line(text, tuple(words), plain and not _MACRO.search(bare), skip, tuple(notes))


def lines_of(text: str) -> tuple[Line, ...]:
    return tuple(line_of(one) for one in text.split("\n"))
