"""What somebody did to the words of an edit: signs, points and letters exchanged, codes put in or taken out."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from verifier.compare import Edit, WordChange, word_changes
from verifier.control import meant, whole
from verifier.machines import Machine
from verifier.syntax import Block, Number, Word

AXIS = {"X": "x", "U": "x", "I": "x", "Z": "z", "W": "z", "K": "z", "R": "arc"}
"""Coordinate letters and the field of an effect in which they show first."""

_TWINS = {"X": "U", "U": "X", "Z": "W", "W": "Z"}
_POINTED = frozenset("XZUWIKRFPQDEHC")


@dataclass(frozen=True, slots=True)
class WordFacts:
    """What is known of one edit from its words alone. `put` and `taken` are codes ("G20", "M98") it adds and removes, by their meaning."""

    signs: tuple[WordChange, ...] = ()
    points: tuple[WordChange, ...] = ()
    exchanged: tuple[tuple[Word, Word], ...] = ()
    put: tuple[str, ...] = ()
    taken: tuple[str, ...] = ()
    letters: frozenset[str] = frozenset()
    """The letters (G and M aside) of the words that changed."""
    changes: tuple[WordChange, ...] = ()
    """The words that changed, came or went (not G, M, N and O)."""

    @property
    def told(self) -> bool:
        """Whether any word but a block number changed, came or went."""
        return bool(self.letters or self.put or self.taken)

    def touches(self, *codes: str) -> bool:
        """Whether one of these codes was put in or taken out."""
        return any(code in self.put or code in self.taken for code in codes)


def facts_of(edit: Edit, old: Iterable[Block], new: Iterable[Block], machines: tuple[Machine, Machine]) -> WordFacts:
    """The facts of one edit; `old` and `new` are its blocks, each executed on its machine."""
    before, after = list(old), list(new)
    changes = edit.words or _paired(before, after)
    taken = [code for b in before for w in b.words if (code := _code(w, machines[0]))]
    put = [code for b in after for w in b.words if (code := _code(w, machines[1]))]
    for code in list(taken):
        if code in put:
            taken.remove(code)
            put.remove(code)
    told = [c for c in changes if c.kind in ("changed", "added", "removed")]
    return WordFacts(
        tuple(c for c in changes if _sign(c)),
        tuple(c for c in changes if _point(c)),
        tuple(_exchanged(told)) if edit.kind == "changed" or len(before) == len(after) == 1 else (),
        tuple(put),
        tuple(taken),
        frozenset(c.letter for c in told if c.letter not in "GMNO"),
        tuple(c for c in told if c.letter not in "GMNO"),
    )


def _paired(before: list[Block], after: list[Block]) -> tuple[WordChange, ...]:
    """Blocks that were replaced by as many others are compared one by one; else all words went, or came."""
    if len(before) != len(after):
        return (
            *(WordChange(w.letter, w, None, "removed") for b in before for w in b.words),
            *(WordChange(w.letter, None, w, "added") for b in after for w in b.words),
        )
    return tuple(c for b, a in zip(before, after, strict=True) for c in word_changes(b.words, a.words))


def _code(word: Word, machine: Machine) -> str | None:
    if word.letter == "G":
        return meant(word, machine) or None
    if word.letter == "M":
        number = whole(word)
        return None if number is None else f"M{number:02d}"
    return None


def _numbers(change: WordChange) -> tuple[Number, Number] | None:
    if change.kind != "changed" or change.old is None or change.new is None:
        return None
    if change.old.number is None or change.new.number is None:
        return None
    return change.old.number, change.new.number


def _sign(change: WordChange) -> bool:
    """A coordinate of the same size on the other side of zero."""
    pair = _numbers(change)
    if pair is None or change.letter not in AXIS:
        return False
    old, new = pair
    return old.value == -new.value != 0 and old.pointed == new.pointed


def _point(change: WordChange) -> bool:
    """The same digits, with the point at another place or in one of the two only."""
    pair = _numbers(change)
    if pair is None or change.letter not in _POINTED:
        return False
    old, new = pair
    if not old.mantissa or (_digits(old) != _digits(new) and abs(old.mantissa) != abs(new.mantissa)):
        return False
    return old.pointed != new.pointed or abs(old.value) != abs(new.value)


def _digits(number: Number) -> str:
    """The digits that count: no leading zeros, and no trailing ones behind the point."""
    text = str(abs(number.mantissa))
    behind = max(number.decimals, 0)
    while behind and text.endswith("0") and len(text) > 1:
        text, behind = text[:-1], behind - 1
    return text


def _exchanged(changes: list[WordChange]) -> Iterable[tuple[Word, Word]]:
    """Words that gave way to the word of the same axis that counts from elsewhere."""
    for change in changes:
        if change.kind == "removed" and change.old is not None and change.letter in _TWINS:
            twin = next((c.new for c in changes if c.kind == "added" and c.letter == _TWINS[change.letter]), None)
            if twin is not None:
                yield change.old, twin
