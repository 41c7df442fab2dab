"""One block sorted for execution: its G codes and M codes by number, its other words by letter, what the switches leave of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from verifier.machines import Machine, meaning
from verifier.syntax import Block, Word, canonical_number

_INTEGER_LETTERS = frozenset("GMNOTPL")


@dataclass(slots=True)
class Instruction:
    """A block ready to be executed.

    `g` and `m`: codes in order with their words; `words`: every other letter to the word that counts; `used`: letters some function has
    taken, so that what is left over can be named. `twice`: words that another one of their letter replaces.
    """

    block: Block
    g: tuple[tuple[str, Word], ...]
    m: tuple[tuple[int, Word], ...]
    words: dict[str, Word]
    twice: tuple[Word, ...]
    symbolic: tuple[Word, ...]
    used: set[str] = field(default_factory=set)

    def has(self, letters: str) -> bool:
        """Whether any of these letters is among the words."""
        return any(letter in self.words for letter in letters)

    def take(self, letter: str) -> Word | None:
        """The word of a letter, marked as used."""
        self.used.add(letter)
        return self.words.get(letter)

    def code(self, *codes: str) -> bool:
        """Whether one of these G codes stands in the block."""
        return any(code in codes for code, _ in self.g)

    def left(self) -> tuple[Word, ...]:
        """Words nothing has used: nobody knows what they do here."""
        return tuple(word for letter, word in self.words.items() if letter not in self.used)


def g_code(word: Word) -> str | None:
    """The canonical name of a G word: "G01", "G54.1"; None for a value that is no plain number."""
    number = word.number
    if number is None:
        return None
    if number.decimals <= 0:
        return f"G{number.mantissa:02d}"
    if number.value.denominator == 1:
        return f"G{int(number.value):02d}"
    whole, part = divmod(number.value, 1)
    tenths = part * 10
    return f"G{int(whole):02d}.{int(tenths)}" if tenths.denominator == 1 else f"G{number.text}"


FOREIGN = "?"
"""What stands before a code that only other code sets have."""


def meant(word: Word, machine: Machine) -> str:
    """What a G word means on this machine: a code as set A names it, "" for no code, FOREIGN and the code for one of other sets."""
    code = g_code(word)
    if code is None:
        return ""
    found = meaning(code, machine.code_set)
    return FOREIGN + code if found is None else found


def whole(word: Word) -> int | None:
    """The value of a word that must be a whole number, or None."""
    number = word.number
    if number is None:
        return None
    if number.decimals <= 0:
        return number.mantissa
    return int(number.value) if number.value.denominator == 1 else None


def unskipped(block: Block, skipped: Callable[[int], bool]) -> tuple[Word, ...]:
    """The words that the skip marks leave; `skipped(level)` tells whether the switch of a level is on."""
    ends = [skip.before for skip in block.skips if skipped(skip.level)]
    return block.words[: min(ends, default=None)]


def instruction(block: Block, given: tuple[Word, ...], machine: Machine) -> Instruction:
    """Sort the words of a block, as the skip marks and the variables leave them."""
    g: list[tuple[str, Word]] = []
    m: list[tuple[int, Word]] = []
    words: dict[str, Word] = {}
    twice: list[Word] = []
    symbolic: list[Word] = []
    for word in given:
        if word.number is None:
            symbolic.append(word)
            if word.letter in _INTEGER_LETTERS:
                continue
        if word.letter == "G":
            g.append((meant(word, machine), word))
        elif word.letter == "M":
            m.append((whole(word) if whole(word) is not None else -1, word))  # type: ignore[arg-type]
        else:
            if word.letter in words and word.letter != "N":
                twice.append(words[word.letter])
            words[word.letter] = word
    return Instruction(block, tuple(g), tuple(m), words, tuple(twice), tuple(symbolic))


def canonical(words: tuple[Word, ...] | list[Word]) -> str:
    """Words as comparable text: codes by number, values exact with whether they had a point."""
    return " ".join(canonical_word(word) for word in words)


def canonical_word(word: Word) -> str:
    """One word as comparable text (`G1` = `G01`, `X25.` = `X25.000`, but not `X25`)."""
    if word.number is None:
        return word.text.replace(" ", "").upper()
    if word.letter == "G":
        return g_code(word) or word.text
    return f"{word.letter}{canonical_number(word.number)}"
