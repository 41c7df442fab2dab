"""Per cent signs: where the program on a tape starts and ends, and what stands outside."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from verifier.source import Problem, Span


def outside(marks: NDArray[np.int64], blocks: NDArray[np.int32]) -> list[Problem]:
    """Problems about blocks before the start mark or behind the end mark.

    `marks` are the lines of the per cent signs, one entry each, `blocks` the lines of the blocks, both in order. The first
    sign is the start where no block stands before it, or where blocks stand between it and the next one; else it is the end.
    """
    if not len(marks) or not len(blocks):
        return []
    starts = bool(marks[0] <= blocks[0])
    found = []
    if not starts and len(marks) > 1 and _first_from(blocks, int(marks[0])) <= marks[1]:
        starts = True
        found.append(
            _problem("text-before-start", int(blocks[0]), f"this block stands before the start mark in line {marks[0]}")
        )
    ends = marks[1:] if starts else marks
    if len(ends) and blocks[-1] > ends[0]:
        first = _first_from(blocks, int(ends[0]) + 1)
        found.append(_problem("text-after-end", first, f"this block stands behind the end mark in line {ends[0]}"))
    return found


def _first_from(blocks: NDArray[np.int32], line: int) -> int:
    """The line of the first block from `line` on; one behind the last block where there is none."""
    at = int(np.searchsorted(blocks, line))
    return int(blocks[at]) if at < len(blocks) else int(blocks[-1]) + (1 << 30)


def _problem(code: str, line: int, message: str) -> Problem:
    hint = "a control ignores it, or takes it for another program"
    return Problem(code, Span(line, 1), message, expected="all blocks between the two per cent signs", hint=hint)
