"""Notes to people, paired between two programs, and what in them is more than prose: numbers, tools, offsets, units, holding."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from difflib import SequenceMatcher

from verifier.syntax import Comment

_BOUND = 400
"""So many notes on a side are paired by likeness; beyond that only in their order."""

_NUMBER = re.compile(r"[-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)")
_NAMED = re.compile(
    r"TOOL|OFFSET|CHUCK|JAW|COLLET|CLAMP|TAIL ?STOCK|STEADY|CENT(?:RE|ER)|BAR|STOCK|BLANK|STOP|INCH|METRIC|MM\b|G5[4-9]|"
    r"\bT[0-9]+|INSERT|TORQUE|PRESSURE|SOFT|HARD|FACE|LENGTH|STICK"
)
_HEAVY = re.compile(r"TOOL|OFFSET|CHUCK|JAW|COLLET|CLAMP|TAIL ?STOCK|STEADY|G5[4-9]|\bT[0-9]+")

NotePair = tuple[Comment | None, Comment | None]


def changed_notes(old: Sequence[Comment], new: Sequence[Comment]) -> Iterator[NotePair]:
    """The notes that differ in more than prose, in the order of the new program."""
    pairs = list(paired_notes(old, new))
    gone = {note_text(before): before for before, _ in pairs if before is not None and any(told(before))}
    come = {note_text(after): after for _, after in pairs if after is not None}
    moved = gone.keys() & come.keys()
    for before, after in pairs:
        left, right = before, after
        if after is not None and (text := note_text(after)) in moved and after is come[text]:
            yield gone[text], after
            right = None
        if before is not None and (text := note_text(before)) in moved and before is gone[text]:
            left = None
        if told(left) != told(right):
            yield left, right


def note_text(note: Comment) -> str:
    """A note's words as they are compared: in capitals, one blank between them."""
    return " ".join(note.text.upper().split())


def heavy(note: Comment | None) -> bool:
    """Whether a note names a tool, an offset, or what holds the work."""
    return note is not None and bool(_HEAVY.search(note.text.upper()))


def shown(note: Comment) -> str:
    """A note's text on one line, not too long."""
    text = " ".join(note.text.split())
    return text if len(text) <= 60 else text[:57] + "..."


def told(note: Comment | None) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The numbers (signs told apart only behind a blank) and the naming words of a note."""
    if note is None:
        return (), ()
    text = note.text.upper()
    return tuple(_number(found) for found in _NUMBER.findall(text)), tuple(_NAMED.findall(text))


def _number(text: str) -> str:
    """A number without the zeros that say nothing."""
    sign, digits = ("-" if text.startswith("-") else ""), text.lstrip("+-")
    whole, point, part = digits.partition(".")
    part = part.rstrip("0")
    return f"{sign}{whole.lstrip('0') or '0'}{'.' + part if point and part else ''}"


def paired_notes(old: Sequence[Comment], new: Sequence[Comment]) -> Iterator[NotePair]:
    """The notes that are not the same words on both sides, in pairs, in their order. Exchanging the sides exchanges the pairs."""
    keys = tuple([note_text(note) for note in notes] for notes in (old, new))
    if keys[0] > keys[1]:  # likeness is looked for in one direction, always the same one
        yield from ((before, after) for after, before in _paired(new, old, keys[1], keys[0]))
    else:
        yield from _paired(old, new, *keys)


def _paired(
    old: Sequence[Comment], new: Sequence[Comment], keys_old: list[str], keys_new: list[str]
) -> Iterator[NotePair]:
    start = 0
    while start < min(len(old), len(new)) and keys_old[start] == keys_new[start]:
        start += 1
    end = 0
    while end < min(len(old), len(new)) - start and keys_old[-1 - end] == keys_new[-1 - end]:
        end += 1
    left, right = old[start : len(old) - end], new[start : len(new) - end]
    if max(len(left), len(right)) > _BOUND:
        yield from _in_order(left, right)
        return
    matcher = SequenceMatcher(None, keys_old[start : len(old) - end], keys_new[start : len(new) - end], autojunk=False)
    for tag, i1, i2, j1, j2 in matcher.get_opcodes():
        if tag != "equal":
            yield from _in_order(left[i1:i2], right[j1:j2])


def _in_order(left: Sequence[Comment], right: Sequence[Comment]) -> Iterator[NotePair]:
    for k in range(max(len(left), len(right))):
        yield (left[k] if k < len(left) else None), (right[k] if k < len(right) else None)
