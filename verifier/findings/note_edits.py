"""Notes and the blocks that they stand at: notes that only go along with a moved block, and words that a bracket made a note (or freed from one)."""

from __future__ import annotations

from functools import cached_property
from typing import NamedTuple

from verifier.compare import CHANGED, Edit
from verifier.findings.notes import NotePair, note_text
from verifier.findings.view import ChangeView, ProgramView
from verifier.syntax import Comment, block_text


class BecameNote(NamedTuple):
    """Words that stand in a note now, or stood in one before (`freed`): the edit that shows it, the words, and the note without them."""

    edit: int
    words: str
    rest: str
    freed: bool


class NoteEdits:
    """What the edits of a change did to its notes."""

    def __init__(self, change: ChangeView) -> None:
        self._change = change
        self._edits = change.comparison.edits
        self._lost_by: dict[tuple[int, bool], dict[str, str]] = {}

    def goes_along(self, pair: NotePair) -> bool:
        """Whether a note that stands elsewhere still stands at its block: the block was moved, or others were moved past it."""
        old, new = pair
        if old is None or new is None or note_text(old) != note_text(new):
            return False
        before, after = self._stands[0][old], self._stands[1][new]
        partner = self._edits.alignment.old_to_new
        return before[0] < len(partner) and (int(partner[before[0]]), before[1]) == after

    def became_note(self, pair: NotePair) -> BecameNote | None:
        """What a bracket put in front of words made of them; None where the notes of a pair differ for another reason."""
        for freed, note, other in ((False, pair[1], pair[0]), (True, pair[0], pair[1])):
            text, otherwise = (_close(one.text) if one is not None else "" for one in (note, other))
            if note is None or text in otherwise:
                continue
            for edit in self._edits_at(note, freed=freed):
                lost = self._lost(edit, freed=freed)
                tried = (text, _without(text, otherwise)) if edit.kind != CHANGED else lost
                words = next((one for one in tried if one in lost and _without(text, one) is not None), None)
                if words:
                    rest = _without(text, words) or ""
                    return BecameNote(edit.index, lost[words], "" if rest == otherwise else rest, freed)
        return None

    @cached_property
    def _stands(self) -> tuple[dict[Comment, tuple[int, int]], dict[Comment, tuple[int, int]]]:
        """For each note of both sides its block, and the how manieth note of that block it is."""
        return _stands(self._change.old), _stands(self._change.new)

    @cached_property
    def _at(self) -> tuple[dict[int, list[Edit]], dict[int, list[Edit]]]:
        """By the blocks of both sides, the edits of whole blocks that stand there."""
        found: tuple[dict[int, list[Edit]], dict[int, list[Edit]]] = ({}, {})
        for edit in self._edits.edits:
            for side, at in enumerate(edit.at if edit.kind != CHANGED else ()):
                found[side].setdefault(at, []).append(edit)
        return found

    def _edits_at(self, note: Comment, *, freed: bool) -> list[Edit]:
        """The edits that took words from the note's line (or put them in), or where that line holds no block, blocks at its place."""
        side, view = (0, self._change.old) if freed else (1, self._change.new)
        owner = self._edits.of_old if freed else self._edits.of_new
        block = self._stands[side][note][0]
        if 0 <= block < len(owner) and view.place(block).line == note.line:
            return [self._edits.edits[owner[block]]] if owner[block] >= 0 else []
        return [edit for at in (block, block + 1) for edit in self._at[side].get(at, ())]

    def _lost(self, edit: Edit, *, freed: bool) -> dict[str, str]:
        """The words that an edit took out of a block (or put into it), or each block that it took out (or put in): without blanks -> as told."""
        known = self._lost_by.get((edit.index, freed))
        if known is None:
            if edit.kind == CHANGED:
                lost = [w.new if freed else w.old for w in edit.words if (w.old if freed else w.new) is None]
                told = [" ".join(w.text.replace(" ", "") for w in lost if w is not None)]
            else:
                view, blocks = (self._change.new, edit.new) if freed else (self._change.old, edit.old)
                told = [block_text(view.block(block)) for block in blocks]
            known = self._lost_by[edit.index, freed] = {_close(words): words for words in told if words}
        return known


def _without(text: str, words: str) -> str | None:
    """A note without the words that it begins or ends with; None where it does neither: it only speaks of them."""
    if text.startswith(words):
        return text[len(words) :]
    return text[: -len(words)] if text.endswith(words) else None


def _stands(view: ProgramView) -> dict[Comment, tuple[int, int]]:
    found: dict[Comment, tuple[int, int]] = {}
    count: dict[int, int] = {}
    for note in view.program.comments:
        block = view.note_place(note).block
        found[note] = (block, count.get(block, 0))
        count[block] = count.get(block, 0) + 1
    return found


def _close(text: str) -> str:
    return "".join(text.upper().split())


__all__ = ["BecameNote", "NoteEdits"]
