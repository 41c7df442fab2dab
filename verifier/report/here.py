"""Where a block of either program belongs in the revision: the sequence that an operator would start."""

from __future__ import annotations

import numpy as np

from verifier.findings import ChangeView, ProgramView, main_blocks, sequence_numbers


def sequence_here(change: ChangeView, view: ProgramView, block: int) -> int | None:
    """The sequence of the new program that a block belongs to; for one that went, the sequence that follows where it was."""
    sequence = view.sequence_of(block)
    if sequence is None or view is change.new:
        return sequence.index if sequence is not None else None
    for old in change.old.sequences[sequence.index :]:
        same = [s for s in change.new.sequences if (s.tool, s.offset) == (old.tool, old.offset)]
        if same:
            return next((s for s in same if s.label == old.label), same[0]).index
    return None


def owners(view: ProgramView) -> np.ndarray[tuple[int], np.dtype[np.int32]]:
    """For each move the sequence that makes it, by index; -1 outside all."""
    trace = view.trace
    return sequence_numbers(view, main_blocks(trace)) if len(trace.moves) else np.zeros(0, np.int32)
