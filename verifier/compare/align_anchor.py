"""Anchors: keys that occur once on both sides, the heaviest chain of them that rises, and small tools over runs.

Everything here is a pure function over arrays. A *pair* is (position in the old, position in the new sequence); a *run*
is (first old, first new, length), pairs that follow each other on both sides.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Keys = NDArray[np.uint64]
Index = NDArray[np.int64]
Mask = NDArray[np.bool_]

EMPTY: Index = np.zeros(0, np.int64)


def mix(values: Keys) -> Keys:
    """The finalising permutation of splitmix64 (public domain, S. Vigna): every input bit reaches every output bit."""
    values = (values ^ (values >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    values = (values ^ (values >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return values ^ (values >> np.uint64(31))


@dataclass(frozen=True, slots=True)
class Shared:
    """What two key arrays have in common.

    `old`, `new`: pairs whose key occurs exactly once on each side, rising in `old`. `old_partner`, `new_partner`: for
    each block, whether its key occurs on the other side at all.
    """

    old: Index
    new: Index
    old_partner: Mask
    new_partner: Mask


def shared_keys(old: Keys, new: Keys) -> Shared:
    """Group both sides by key with one sort; O(n log n)."""
    height = len(old)
    both = np.concatenate((old, new))
    old_partner, new_partner = np.zeros(height, bool), np.zeros(len(new), bool)
    if not height or not len(new):
        return Shared(EMPTY, EMPTY, old_partner, new_partner)
    order = np.argsort(both)
    ranked = both[order]
    start = np.flatnonzero(np.concatenate(([True], ranked[1:] != ranked[:-1])))
    size = np.diff(np.append(start, len(ranked)))
    from_old = np.add.reduceat((order < height).astype(np.int64), start)
    first = start[(from_old == 1) & (size == 2)]
    left, right = order[first], order[first + 1]
    pair_old, pair_new = np.minimum(left, right), np.maximum(left, right) - height
    partner = np.zeros(len(both), bool)
    partner[order] = np.repeat((from_old > 0) & (from_old < size), size)
    rising = np.argsort(pair_old)
    return Shared(pair_old[rising], pair_new[rising], partner[:height], partner[height:])


def runs_of(old: Index, new: Index, part: Mask | None = None) -> Index:
    """Collapse pairs that rise in `old` into runs, an array of shape (runs, 3).

    `part`, one shorter than the pairs, says where neighbours must not be in one run.
    """
    if not len(old):
        return np.zeros((0, 3), np.int64)
    breaks = (np.diff(old) != 1) | (np.diff(new) != 1)
    cut = np.flatnonzero(breaks if part is None else breaks | part) + 1
    start = np.concatenate(([0], cut))
    length = np.diff(np.append(start, len(old)))
    return np.stack((old[start], new[start], length), axis=1)


def spread(length: Index) -> tuple[Index, Index]:
    """For items of these lengths: which item each element belongs to, and its offset in it."""
    owner = np.repeat(np.arange(len(length)), length)
    offset = np.arange(len(owner)) - np.repeat(np.cumsum(length) - length, length)
    return owner, offset


def pairs_of(runs: Index) -> tuple[Index, Index]:
    """The pairs that runs of shape (runs, 3) stand for."""
    owner, offset = spread(runs[:, 2])
    return runs[owner, 0] + offset, runs[owner, 1] + offset


def heaviest_chain(new: Index, weight: Index | None = None) -> Mask:
    """Mask of the heaviest strictly rising subsequence of `new` (distinct values); each pair weighs 1 unless told.

    Pairs that are neighbours in both orders stand or fall together, so the search runs over such stretches: O(s log s)
    for s stretches. Of chains of equal weight the choice is fixed but arbitrary.
    """
    count = len(new)
    if count < 2 or bool(np.all(np.diff(new) > 0)):
        return np.ones(count, bool)
    rank = np.empty(count, np.int64)
    rank[np.argsort(new)] = np.arange(count)
    start = np.concatenate(([0], np.flatnonzero(np.diff(rank) != 1) + 1))
    end = np.append(start[1:], count)
    loads = end - start if weight is None else np.add.reduceat(weight, start)
    place = np.empty(len(start), np.int64)
    place[np.argsort(rank[start])] = np.arange(1, len(start) + 1)
    keep = np.zeros(count, bool)
    for stretch in _best_stretches(place.tolist(), loads.tolist()):
        keep[start[stretch] : end[stretch]] = True
    return keep


def _best_stretches(place: list[int], load: list[int]) -> list[int]:
    """The heaviest rising choice of a permutation of 1..n; a Fenwick tree holds the best chain up to a place."""
    size = len(place)
    best, holder = [0] * (size + 1), [-1] * (size + 1)
    before, total = [-1] * size, [0] * size
    for item, (here, own) in enumerate(zip(place, load, strict=True)):
        weight, node = 0, here - 1
        while node > 0:
            if best[node] > weight:
                weight, before[item] = best[node], holder[node]
            node &= node - 1
        total[item] = weight = weight + own
        node = here
        while node <= size:
            if weight > best[node]:
                best[node], holder[node] = weight, item
            node += node & -node
    item = max(range(size), key=total.__getitem__)
    chosen = []
    while item >= 0:
        chosen.append(item)
        item = before[item]
    return chosen[::-1]
