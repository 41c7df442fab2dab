"""Sequences that were put in another order: whichever blocks the alignment takes for the moved ones, it is one edit and one story."""

from __future__ import annotations

from verifier.compare import ADDED, MOVED, REMOVED, Edit
from verifier.findings.view import ChangeView, ProgramView
from verifier.syntax import block_text

_MOST = 0.5
"""A sequence counts as moved when more than so great a part of its blocks moved."""


def resequenced(change: ChangeView) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """The edits by which whole sequences moved, and those that took the same blocks from one place and put them in at another.

    The latter are the stop that stands behind every sequence but the last: it stays where it was while the sequences change places.
    """
    edits = change.comparison.edits
    moved = {edit.index for edit in edits.edits if edit.kind == MOVED}
    found: dict[int, None] = {}
    for sequence in change.new.sequences if moved else ():
        here = [int(k) for k in edits.of_new[sequence.first : sequence.end].tolist() if k in moved]
        if len(here) > _MOST * (sequence.end - sequence.first):
            found.update(dict.fromkeys(here))
    return tuple(sorted(found)), tuple(_put_elsewhere(change)) if found else ()


def _put_elsewhere(change: ChangeView) -> list[int]:
    """Blocks taken out in one place that were put in, just so, in another."""
    waiting: dict[tuple[str, ...], list[Edit]] = {}
    edits = change.comparison.edits.edits
    for edit in edits:
        if edit.kind == REMOVED:
            waiting.setdefault(_texts(change.old, edit.old), []).append(edit)
    found: list[int] = []
    for edit in edits:
        gone = waiting.get(_texts(change.new, edit.new)) if edit.kind == ADDED else None
        if gone:
            found += [gone.pop(0).index, edit.index]
    return sorted(found)


def _texts(view: ProgramView, blocks: tuple[int, ...]) -> tuple[str, ...]:
    return tuple(block_text(view.block(block)) for block in blocks)


__all__ = ["resequenced"]
