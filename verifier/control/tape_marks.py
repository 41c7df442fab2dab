"""Blocks outside the per cent signs: whether a control reads them at all is not told by the text."""

from __future__ import annotations

import numpy as np

from verifier.syntax import Program

BEHIND = "the run behind the end mark %"
BEFORE = "the run before the start mark %"
REASON = "a control leaves it out, or takes it for another program; the run goes on here as if the mark were not there"


def outside_marks(program: Program) -> dict[str, int]:
    """The first block of each stretch that lies outside the per cent signs, by what is said of it."""
    names = {"text-before-start": BEFORE, "text-after-end": BEHIND}
    return {
        names[problem.code]: int(np.searchsorted(program.columns.line, problem.span.line))
        for problem in program.problems
        if problem.code in names
    }


class TapeMarks:
    """Where the blocks of one program lie outside its per cent signs; a run tells each of the two stretches once, where it comes to it."""

    def __init__(self, program: Program) -> None:
        at = outside_marks(program)
        self._before = at.get(BEFORE, -1)
        self._behind = at.get(BEHIND, len(program.blocks))
        self._told: set[str] = set()

    def outside(self, block: int) -> str:
        """What the run comes to with this block, where it lies outside the marks and that was not told before; else ""."""
        found = BEHIND if block >= self._behind else BEFORE if block == self._before else ""
        if not found or found in self._told:
            return ""
        self._told.add(found)
        return found
