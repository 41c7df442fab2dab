"""Shortest edit script for long repetitive stretches.

E. Myers, "An O(ND) difference algorithm and its variations", 1986, in the greedy forward form. All diagonals of one
edit step advance together as arrays. A snake (a stretch of equal blocks along a diagonal) is found by comparing hashes
of 2**k blocks instead of block by block. Up to `EXACT` edits the script is a shortest one. Past
that, the first half of the farthest path found is kept and the search starts anew at its end, so that cost grows with
the number of edits and not with its square.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from verifier.compare.align_anchor import Index, Keys, mix, pairs_of, runs_of

EXACT = 1024
"""Edits up to which one search goes; common practice, no source: 1024 edits cost half a million cells."""

DENSE = 1 / 200
"""Edits per block above which a table in strides is cheaper than this search (measured, within a factor of two)."""

_LEVELS = 11
_STEP_COST = 1000  # what one step costs beside its cells: its array calls
_NOWHERE = -4  # an unreachable diagonal; stays negative after one step to the right
_GOLDEN = np.uint64(0x9E3779B97F4A7C15)


@dataclass(slots=True)
class Work:
    """Counts what searching costs, in cells of about 0.1 microseconds; `limit` bounds the edit scripts of a rung."""

    limit: int
    cells: int = 0
    rounds: int = 0
    strides: int = 0
    left: int = field(init=False)

    def __post_init__(self) -> None:
        self.left = self.limit

    def refill(self) -> None:
        """Start a new rung with the whole limit."""
        self.left = self.limit

    def spend(self, cells: int) -> bool:
        """Count cells against the limit; whether it still allows them."""
        self.cells += cells
        self.left -= cells
        return self.left >= 0


@dataclass(frozen=True, slots=True)
class _Front:
    """The farthest old position on every second diagonal (old - new position) from `lowest` on, after some edits."""

    lowest: int
    reach: Index

    def at(self, diagonal: int) -> int:
        place, odd = divmod(diagonal - self.lowest, 2)
        return int(self.reach[place]) if not odd and 0 <= place < len(self.reach) else _NOWHERE


class _Snakes:
    """Finds how far two sequences run equal from given positions."""

    def __init__(self, old: Keys, new: Keys) -> None:
        levels = min(_LEVELS, max(1, min(len(old), len(new)).bit_length()))
        self.height, self.width = len(old), len(new)
        self._old = _grams(old, levels, np.uint64(1))
        self._new = _grams(new, levels, np.uint64(2))

    def slide(self, old: Index, diagonal: Index) -> Index:
        """Old positions after the snakes that start at `old` on these diagonals; all within both sequences."""
        old = old.copy()
        live = np.flatnonzero(self._old[0][old] == self._new[0][old - diagonal])
        if not len(live):
            return old
        at, shift = old[live], diagonal[live]
        top = len(self._old) - 1
        far = np.arange(len(live))
        while len(far):
            equal = self._old[top][at[far]] == self._new[top][at[far] - shift[far]]
            far = far[equal]
            at[far] += 1 << top
        for level in range(top - 1, -1, -1):
            equal = self._old[level][at] == self._new[level][at - shift]
            at += equal.astype(np.int64) << level
        old[live] = at
        return old


def _grams(keys: Keys, levels: int, pad: np.uint64) -> list[Keys]:
    """Hashes of 2**k keys from every position; where they would pass the end, a value that equals nothing."""
    table = [mix(keys + np.uint64(1))]
    for level in range(1, levels):
        half, step = table[-1], 1 << (level - 1)
        table.append(half[:-step] * _GOLDEN + mix(half[step:] + np.uint64(level)))
    size = len(keys) + 1
    return [np.concatenate((row, np.full(size - len(row), pad, np.uint64))) for row in table]


def edit_script_runs(old: Keys, new: Keys, work: Work, exact: int = EXACT) -> tuple[Index, tuple[int, int]]:
    """Runs (old, new, length) of equal blocks, rising, and the place (old, new) up to which they go.

    The place is the end of both sequences, and the script a shortest one, where `exact` edits suffice. It lies before
    the end where edits turned out dense or the work limit is spent: then searching on like this would not pay.
    """
    snakes = _Snakes(old, new)
    found: list[tuple[int, int, int]] = []
    place, complete = (0, 0), False
    while not complete:
        fronts, complete = _search(snakes, place, work, exact)
        path = _walk_back(snakes, fronts, place, complete)
        if complete:
            place = (len(old), len(new))
        else:
            path = path[: len(path) // 2 + 1]
            at_old, at_new, length = path[-1]
            place = (at_old + length, at_new + length)
        found += path
        if work.left < 0 or len(found) > DENSE * sum(place):
            break
    runs = np.array([run for run in found if run[2]], np.int64).reshape(-1, 3)
    return _confirmed(runs, old, new), place


def _search(snakes: _Snakes, origin: tuple[int, int], work: Work, exact: int) -> tuple[list[_Front], bool]:
    """Advance from `origin` until both ends are reached, `exact` edits are made or the limit is spent."""
    diagonal = origin[0] - origin[1]
    goal = snakes.height - snakes.width
    fronts = [_Front(diagonal, snakes.slide(np.array([origin[0]]), np.array([diagonal])))]
    for _ in range(exact):
        if fronts[-1].at(goal) >= snakes.height or not work.spend(len(fronts[-1].reach) + _STEP_COST):
            break
        fronts.append(_advance(snakes, fronts[-1]))
    return fronts, fronts[-1].at(goal) >= snakes.height


def _advance(snakes: _Snakes, front: _Front) -> _Front:
    """One more edit on every diagonal, then the snakes; diagonals that left both sequences are cut off."""
    diagonal = front.lowest - 1 + 2 * np.arange(len(front.reach) + 1)
    inserted = np.append(front.reach, _NOWHERE)
    deleted = np.concatenate(([_NOWHERE], front.reach)) + 1
    inserted[inserted - diagonal > snakes.width] = _NOWHERE
    deleted[deleted > snakes.height] = _NOWHERE
    start = np.maximum(inserted, deleted)
    alive = np.flatnonzero(start >= 0)
    reach = np.full(len(start), _NOWHERE, np.int64)
    reach[alive] = snakes.slide(start[alive], diagonal[alive])
    first, last = int(alive[0]), int(alive[-1])
    return _Front(int(diagonal[first]), reach[first : last + 1])


def _walk_back(
    snakes: _Snakes, fronts: list[_Front], origin: tuple[int, int], complete: bool
) -> list[tuple[int, int, int]]:
    """The snake (old, new, length) after each edit of the path to the end, or to the farthest point reached."""
    last = fronts[-1]
    if complete:
        diagonal = snakes.height - snakes.width
    else:
        spans = 2 * last.reach - (last.lowest + 2 * np.arange(len(last.reach)))
        diagonal = last.lowest + 2 * int(np.argmax(np.where(last.reach >= 0, spans, -1)))
    old = last.at(diagonal)
    path: list[tuple[int, int, int]] = []
    for front in reversed(fronts[:-1]):
        inserted, deleted = front.at(diagonal + 1), front.at(diagonal - 1) + 1
        inserted = _NOWHERE if inserted - diagonal > snakes.width else inserted
        deleted = _NOWHERE if deleted > snakes.height else deleted
        start = max(inserted, deleted)
        path.append((start, start - diagonal, old - start))
        old, diagonal = (inserted, diagonal + 1) if inserted >= deleted else (deleted - 1, diagonal - 1)
    path.append((*origin, old - origin[0]))
    return path[::-1]


def _confirmed(runs: Index, old: Keys, new: Keys) -> Index:
    """The same runs without pairs whose keys differ after all: two hashes may agree by chance."""
    pair_old, pair_new = pairs_of(runs)
    equal = old[pair_old] == new[pair_new]
    return runs if bool(equal.all()) else runs_of(pair_old[equal], pair_new[equal])
