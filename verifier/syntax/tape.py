"""Per cent signs: where the program on a tape starts and ends, and what stands outside."""

from __future__ import annotations

from collections.abc import Sequence

from verifier.source import Problem, Span


def outside(marks: Sequence[tuple[int, int]], blocks: Sequence[int]) -> list[Problem]:
    """Problems about blocks before the start mark or behind the end mark.

    `marks` are (line, column) of the per cent signs, `blocks` the lines of the blocks, both in order. The first sign is the
    start where at most comments stand before it or where another one follows; the one after it is the end.
    """
    if not marks or not blocks:
        return []
    lines = [line for line, _ in marks]
    starts = lines[0] <= blocks[0]
    found = []
    if not starts and len(lines) > 1 and any(lines[0] <= line <= lines[1] for line in blocks):
        starts = True
        found.append(
            _problem("text-before-start", blocks[0], f"this block stands before the start mark in line {lines[0]}")
        )
    ends = lines[1:] if starts else lines
    if ends and blocks[-1] > ends[0]:
        first = next(line for line in blocks if line > ends[0])
        found.append(_problem("text-after-end", first, f"this block stands behind the end mark in line {ends[0]}"))
    return found


def _problem(code: str, line: int, message: str) -> Problem:
    hint = "a control ignores it, or takes it for another program"
    return Problem(code, Span(line, 1), message, expected="all blocks between the two per cent signs", hint=hint)
