"""Which words of an edit's blocks are to be struck through or underlined: for people's eyes only, no verdict rests on it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from difflib import SequenceMatcher

Pieces = tuple[tuple[str, bool], ...]
"""The text of one block in pieces: (text, whether it was removed or added)."""

_WORD = re.compile(r"\([^)]*\)?|[A-Za-z]+ *[-+]?[0-9.]*|\s+|.", re.DOTALL)
_MOST_WORDS = 120
"""A longer block is marked as a whole: finding its words takes the square of their number."""


def marked(old: Sequence[str], new: Sequence[str]) -> tuple[tuple[Pieces, ...], tuple[Pieces, ...]]:
    """The blocks of an edit before and after, with the words marked that differ.

    Blocks are compared in pairs where there are as many after as before; else each is marked whole.
    """
    if len(old) != len(new):
        return tuple(_whole(text) for text in old), tuple(_whole(text) for text in new)
    pairs = [_pair(before, after) for before, after in zip(old, new, strict=True)]
    return tuple(before for before, _ in pairs), tuple(after for _, after in pairs)


def _whole(text: str) -> Pieces:
    return ((text, True),)


def _pair(old: str, new: str) -> tuple[Pieces, Pieces]:
    before, after = _WORD.findall(old), _WORD.findall(new)
    if max(len(before), len(after)) > _MOST_WORDS:
        return _whole(old), _whole(new)
    matched = SequenceMatcher(None, before, after, autojunk=False).get_opcodes()
    return (
        _joined((kind, before[start:end]) for kind, start, end, _, _ in matched),
        _joined((kind, after[start:end]) for kind, _, _, start, end in matched),
    )


def _joined(runs: Iterable[tuple[str, list[str]]]) -> Pieces:
    return tuple(piece for kind, words in runs for piece in _trimmed("".join(words), kind != "equal") if piece[0])


def _trimmed(text: str, differs: bool) -> Pieces:
    """A piece with the blanks at its ends beside it, so that no blank is struck through or underlined."""
    core = text.strip()
    if not differs or not core:
        return ((text, False),)
    start = text.index(core)
    return ((text[:start], False), (core, True), (text[start + len(core) :], False))
