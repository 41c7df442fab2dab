"""What was edited in the text: blocks paired, changed, added, removed and moved, and the edits they form."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from verifier.compare.align import Alignment
from verifier.compare.align_words import align_words
from verifier.compare.called import called_numbers, label_lost
from verifier.compare.keys_program import program_words
from verifier.compare.worddiff import WordChange, word_changes
from verifier.control import Sequence as ToolSequence
from verifier.control import outside_marks
from verifier.syntax import Block, Program

SAME, WORDING, CHANGED, ADDED, REMOVED, MOVED = "same", "wording", "changed", "added", "removed", "moved"
REPLACED = "replaced"


@dataclass(frozen=True, slots=True)
class Pairing:
    """One old block and the new block it became (None: it has no partner). `words` are what changed inside it."""

    old: int | None
    new: int | None
    kind: str
    words: tuple[WordChange, ...] = ()


@dataclass(frozen=True, slots=True)
class Edit:
    """One thing somebody did: blocks changed, or a stretch of blocks taken out, put in, exchanged or moved.

    `old`, `new` are block indices in order; `words` the word changes of a changed block. `at` is where the edit stands on each side, as a
    block index there: its first block, or where its blocks would be.
    """

    index: int
    kind: str
    old: tuple[int, ...]
    new: tuple[int, ...]
    words: tuple[WordChange, ...] = ()
    at: tuple[int, int] = (0, 0)


@dataclass(frozen=True, slots=True)
class Edits:
    """All edits, and how every block of both sides is paired."""

    edits: tuple[Edit, ...]
    pairings: tuple[Pairing, ...]
    alignment: Alignment
    of_old: NDArray[np.int32]
    """For each old block the index of its edit, -1 for none."""
    of_new: NDArray[np.int32]

    def nearest(self, places: Sequence[tuple[int, int]]) -> int:
        """The edit nearest to any of these places (side 0 or 1, block), one in front of the place before one behind it.

        What cannot be led back to an edit by provenance follows from the flow, and that from something in front of it.
        """

        def distance(edit: Edit) -> tuple[int, bool, int]:
            away = [block - edit.at[side] for side, block in places]
            least = min(away, key=abs)
            return (abs(least), least < 0, edit.index)

        return min(self.edits, key=distance).index


def find_edits(
    old: Program, new: Program, old_sequences: tuple[ToolSequence, ...], new_sequences: tuple[ToolSequence, ...]
) -> Edits:
    """Align two programs and name the edits between them."""
    alignment = align_words(
        program_words(old),
        program_words(new),
        np.array([s.first for s in old_sequences], np.int64),
        np.array([s.first for s in new_sequences], np.int64),
        section_keys_old=_section_keys(old_sequences),
        section_keys_new=_section_keys(new_sequences),
    )
    pairings = tuple(_pairings(old, new, alignment))
    return _group(pairings, alignment, len(old.blocks), len(new.blocks))


def _section_keys(found: tuple[ToolSequence, ...]) -> NDArray[np.uint64]:
    """Sequences belong together by tool and offset; the first of a tool with the first, the second with the second."""
    seen: dict[tuple[int | None, int | None], int] = {}
    keys = []
    for sequence in found:
        name = (sequence.tool, sequence.offset)
        seen[name] = seen.get(name, 0) + 1
        number = (sequence.tool or 0) * 1_000_003 + (sequence.offset or 0) * 1_009 + seen[name]
        keys.append(number if sequence.tool is not None else 0)
    return np.array(keys, np.uint64)


def _pairings(old: Program, new: Program, alignment: Alignment) -> list[Pairing]:
    """Every block of both sides once, in the order of the new program with removed blocks where they stood."""
    found: list[Pairing] = []
    old_at = 0
    called = called_numbers(old), called_numbers(new)
    marks = outside_marks(old), outside_marks(new)
    for new_at, partner in enumerate(alignment.new_to_old.tolist()):
        if partner < 0:
            found.append(Pairing(None, new_at, ADDED))
            continue
        if not alignment.moved[partner]:
            found += _removed(alignment, old_at, partner)
            old_at = partner + 1
        pairing = _pair(old, new, partner, new_at, called, moved=bool(alignment.moved[partner]))
        if any(marks) and pairing.kind in (SAME, WORDING) and _marked(marks[0], partner) != _marked(marks[1], new_at):
            pairing = Pairing(partner, new_at, CHANGED, pairing.words)
        found.append(pairing)
    found += _removed(alignment, old_at, len(alignment.old_to_new))
    return found


def _marked(marks: dict[str, int], block: int) -> tuple[str, ...]:
    """The stretches outside the per cent signs that begin at a block: a sign put in front of it is an edit of it."""
    return tuple(name for name, first in marks.items() if first == block)


def _removed(alignment: Alignment, start: int, end: int) -> list[Pairing]:
    return [Pairing(k, None, REMOVED) for k in range(start, end) if alignment.old_to_new[k] < 0]


def _pair(
    old: Program, new: Program, at_old: int, at_new: int, called: tuple[frozenset[int], frozenset[int]], *, moved: bool
) -> Pairing:
    if _line(old, at_old) == _line(new, at_new):
        return Pairing(at_old, at_new, MOVED if moved else SAME)
    before, after = old.blocks[at_old], new.blocks[at_new]
    words = word_changes(before.words, after.words)
    told = [w for w in words if w.kind != "respelled" and w.letter != "N"]
    alike = not told and _rest(before) == _rest(after) and not label_lost(before, after, *called)
    kind = MOVED if moved else WORDING if alike else CHANGED
    return Pairing(at_old, at_new, kind, words)


def _line(program: Program, block: int) -> bytes:
    return program.source.line_bytes(int(program.columns.line[block]))


def _rest(block: Block) -> tuple[object, ...]:
    """What a block says beside its words (a bare skip mark is one of level 1)."""
    return (
        tuple((max(skip.level, 1), skip.before) for skip in block.skips),
        tuple(macro.text for macro in block.macros),
        tuple((flaw.code, flaw.text) for flaw in block.flaws),
    )


NEAR = 2
"""Stretches put in or taken out with no more than so many untouched blocks between them are one edit."""


def _group(pairings: tuple[Pairing, ...], alignment: Alignment, old_count: int, new_count: int) -> Edits:
    """Changed blocks are edits of their own; what was put in or taken out close together is one edit, and so is a stretch that moved."""
    edits: list[Edit] = []
    stands = _stands(pairings)
    for members in _stretches(pairings):
        olds = tuple(p.old for p in members if p.old is not None)
        news = tuple(p.new for p in members if p.new is not None)
        kind = members[0].kind
        if kind in (ADDED, REMOVED):
            kind = REPLACED if olds and news else ADDED if news else REMOVED
        words = tuple(w for p in members for w in p.words)
        edits.append(Edit(len(edits), kind, tuple(sorted(olds)), tuple(sorted(news)), words, stands[id(members[0])]))
    of_old, of_new = np.full(old_count, -1, np.int32), np.full(new_count, -1, np.int32)
    for edit in edits:
        of_old[list(edit.old)] = edit.index
        of_new[list(edit.new)] = edit.index
    return Edits(tuple(edits), pairings, alignment, of_old, of_new)


def _stands(pairings: tuple[Pairing, ...]) -> dict[int, tuple[int, int]]:
    """Where each pairing stands on both sides: its own block, or the one that follows on the side that lacks it."""
    found: dict[int, tuple[int, int]] = {}
    old = new = 0
    for pairing in pairings:
        here = (old if pairing.old is None else pairing.old, new if pairing.new is None else pairing.new)
        found[id(pairing)] = here
        if pairing.kind != MOVED:
            old = old if pairing.old is None else pairing.old + 1
        new = new if pairing.new is None else pairing.new + 1
    return found


def _stretches(pairings: tuple[Pairing, ...]) -> list[list[Pairing]]:
    """The pairings of each edit, in program order. Only put in and taken out, or only moved, grow together.

    A moved block stands at another place on each side, so it parts nothing: seen from the other side the same stretches must come out.
    """
    found: list[list[Pairing]] = []
    last = -NEAR - 2
    for at, pairing in enumerate(p for p in pairings if p.kind != MOVED):
        if pairing.kind in (SAME, WORDING):
            continue
        if pairing.kind == CHANGED:
            found.append([pairing])
            last = -NEAR - 2
            continue
        if at - last <= NEAR + 1:
            found[-1].append(pairing)
        else:
            found.append([pairing])
        last = at
    place = {id(pairing): at for at, pairing in enumerate(pairings)}
    return sorted((*found, *_moved_runs(pairings)), key=lambda members: place[id(members[0])])


def _moved_runs(pairings: tuple[Pairing, ...]) -> list[list[Pairing]]:
    """Moved blocks that follow each other on both sides."""
    found: list[list[Pairing]] = []
    for pairing in pairings:
        if pairing.kind != MOVED or pairing.old is None or pairing.new is None:
            continue
        before = found[-1][-1] if found else None
        if before is not None and (before.old, before.new) == (pairing.old - 1, pairing.new - 1):
            found[-1].append(pairing)
        else:
            found.append([pairing])
    return found
