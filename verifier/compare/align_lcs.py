"""Longest common subsequence of two short sequences, exact, by bit-parallel rows.

One row of the classical table is one big integer, so a window of n by m costs n operations on m bits and keeps n*m bits
(Crochemore et al., "A fast and practical bit-vector algorithm for the longest common subsequence problem", 2001; the
form used here is Hyyroe's of 2004). A zero bit means that the length grows at that column.
"""

from __future__ import annotations

from collections.abc import Sequence


def common_subsequence(old: Sequence[int], new: Sequence[int]) -> list[tuple[int, int]]:
    """Pairs (old, new), rising on both sides, of one longest common subsequence; memory len(old) * len(new) bits."""
    rows = _rows(old, new)
    row, column = len(new), len(old)
    pairs: list[tuple[int, int]] = []
    while row and column:
        bit = 1 << (column - 1)
        if rows[row] & bit:
            column -= 1
        elif rows[row - 1] & bit:
            row -= 1
            column -= 1
            pairs.append((column, row))
        else:
            row -= 1
    pairs.reverse()
    return pairs


def _rows(old: Sequence[int], new: Sequence[int]) -> list[int]:
    """Row k describes the lengths for the first k elements of `new`; row 0 is all ones."""
    places: dict[int, int] = {}
    for position, key in enumerate(old):
        places[key] = places.get(key, 0) | (1 << position)
    full = (1 << len(old)) - 1
    state = full
    rows = [state]
    for key in new:
        hit = state & places.get(key, 0)
        if hit:
            state = ((state + hit) | (state - hit)) & full
        rows.append(state)
    return rows
