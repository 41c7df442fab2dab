"""What a program says it is for: its name beside the program number, and the notes at its head about part, drawing, revision and setup."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import takewhile

from verifier.findings.notes import NotePair, heavy, note_text, paired_notes, told
from verifier.syntax import Block, Comment, Program

_NAMES = re.compile(
    r"\b(?:PART|DRG|DWG|DRAWING|REV|REVISION|ISSUE|INDEX|ITEM|JOB|ORDER|SETUP|SET-UP|OP|OPERATION|SIDE|MACHINE|LATHE)\b"
)
_OPENING = frozenset("O:N")


def identity_notes(old: Program, new: Program) -> Iterator[NotePair]:
    """Pairs of notes at the head of both programs that name what they are for, and do so in other words."""
    heads = [_head(program) for program in (old, new)]
    names = [_name_line(program) for program in (old, new)]
    for before, after in paired_notes(old.comments, new.comments):
        here = [note is not None and note.line <= head for note, head in zip((before, after), heads, strict=True)]
        if not any(here) or heavy(before) or heavy(after) or _text(before) == _text(after):
            continue
        # A name that came or went is prose; another one in its place is another part.
        is_name = all(note is not None and note.line == line for note, line in zip((before, after), names, strict=True))
        if is_name or names_what_it_is_for(before) or names_what_it_is_for(after):
            yield before, after


def identity_changed(pair: NotePair) -> bool:
    """Whether more than prose differs: a note that names a part, a drawing, a setup, or a number."""
    return any(names_what_it_is_for(note) for note in pair) or told(pair[0]) != told(pair[1])


def names_what_it_is_for(note: Comment | None) -> bool:
    """Whether a note names a part, a drawing, a revision, a setup or a machine."""
    return note is not None and bool(_NAMES.search(note.text.upper()))


def _text(note: Comment | None) -> str:
    return note_text(note) if note is not None else ""


def _head(program: Program) -> int:
    """The last line of the head: everything up to the first block that says more than a number."""
    return next((block.line for block in program.blocks if _says_more(block)), 1_000_000_000)


def _says_more(block: Block) -> bool:
    return any(word.letter not in _OPENING for word in block.words)


def _name_line(program: Program) -> int:
    """The line of the program number, 0 where there is none in the head."""
    opening = takewhile(lambda block: not _says_more(block), program.blocks)
    return next((block.line for block in opening if any(word.letter in "O:" for word in block.words)), 0)
