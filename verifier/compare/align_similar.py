"""Pair blocks by likeness where a window is small enough to weigh every block against every other.

A key says equal or not. Here two free blocks of one window are alike by the share of their words that are equal, words
that share only their letter counting half, and the pairing of greatest likeness that keeps the order is taken. So a
clamp code taken out of `G50 S2500`, or a skip mark put before a block, stays an edit inside one block. A pair below
`LEAST` stays apart: rather removed and added than a false match.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from verifier.compare.align import Alignment, goes_second
from verifier.compare.align_anchor import Index, Keys, spread
from verifier.compare.align_state import Windows, open_windows
from verifier.compare.keys import LADDER, Words, block_keys, word_hashes

LEAST = 500
"""Thousandths of likeness from which two blocks are one edited block; common practice, no source."""

SIDE = 32
"""Windows with more free blocks on a side are left alone: too many to tell who is whom."""

CELLS = 2_000_000
"""Pairs of blocks weighed in one pass, first windows first: a bound on time, met where nearly all was rewritten."""

_ROUGH = replace(LADDER[2], name="coordinates in round numbers", round_to=0)
_WINDOW_COST = 128  # cells that take as long as opening a window, measured


@dataclass(frozen=True, slots=True, eq=False)
class _Names:
    """Three names per word: what it says, its letter, and its letter with the value in round numbers. 0 takes no part."""

    row: Index
    exact: Keys
    letter: Keys
    rough: Keys

    def bags(self, blocks: Index) -> tuple[Bag, Bag]:
        """The names in these blocks: exact and letter ones together, and the rough ones."""
        owner, offset = spread(self.row[blocks + 1] - self.row[blocks])
        word = self.row[blocks][owner] + offset
        count = len(blocks)
        fine = np.concatenate((self.exact[word], self.letter[word]))
        return Bag(count, np.tile(owner, 2), fine).counted(), Bag(count, owner, self.rough[word]).counted()


@dataclass(frozen=True, slots=True, eq=False)
class Bag:
    """Names in `count` blocks: `owner` says which block each name is in."""

    count: int
    owner: Index
    name: Keys

    def counted(self) -> Bag:
        """Without the names that take no part."""
        part = self.name != 0
        return Bag(self.count, self.owner[part], self.name[part])

    def tally(self, numbers: Index, width: int) -> Index:
        """How often each of `width` numbers occurs in each block; `numbers` stand for the names."""
        return np.bincount(self.owner * width + numbers, minlength=self.count * width).reshape(self.count, width)


def pair_similar(found: Alignment, old: Words, new: Words, rung: int, lonely: bool) -> Alignment:
    """The same alignment with similar blocks paired at rung number `rung`; mirrored exactly when all is exchanged.

    `lonely`: whether to look at windows of one block on each side too, where there is nothing to choose.
    """
    if goes_second(block_keys(old, LADDER[0]), block_keys(new, LADDER[0])):
        return pair_similar(found.mirrored(), new, old, rung, lonely).mirrored()
    state = found.state()
    windows = open_windows(state)
    left_names, right_names = _names(old), _names(new)
    for window in _small(windows, lonely):
        left = windows.old[windows.old_bounds[window] : windows.old_bounds[window + 1]]
        right = windows.new[windows.new_bounds[window] : windows.new_bounds[window + 1]]
        pairs = best_pairing(_gains(left_names.bags(left), right_names.bags(right)))
        at_old, at_new = (np.array([pair[side] for pair in pairs], np.int64) for side in (0, 1))
        state.put(left[at_old], right[at_new], rung, bool(windows.moved[window]))
    return Alignment(state.old_to_new, state.new_to_old, state.rung, state.moved)


def _small(windows: Windows, lonely: bool) -> list[int]:
    """The windows to look at."""
    left, right = windows.heights()
    small = np.flatnonzero((left <= SIDE) & (right <= SIDE) & (lonely | (left * right > 1)))
    cost = np.cumsum(left[small] * right[small] + _WINDOW_COST)
    chosen: list[int] = small[cost <= CELLS].tolist()
    return chosen


def _names(words: Words) -> _Names:
    readings = (LADDER[0], LADDER[-1], _ROUGH)
    return _Names(words.row, *(word_hashes(words, reading) for reading in readings))


def _gains(left: tuple[Bag, Bag], right: tuple[Bag, Bag]) -> list[list[int]]:
    """What pairing each left block with each right one is worth; 0 where they are too little alike.

    The square of their likeness, so that one good pair outweighs two poor ones; words alike in round numbers settle ties.
    """
    common, total = in_common(left[0], right[0])
    score = 2000 * common // np.maximum(total, 1)
    rough, _ = in_common(left[1], right[1])
    gains: list[list[int]] = np.where(score >= LEAST, score * score * 64 + np.minimum(rough, 63), 0).tolist()
    return gains


def in_common(left: Bag, right: Bag) -> tuple[Index, Index]:
    """For each left and each right block: how many names they share, as multisets, and how many they hold together."""
    numbers = np.unique(np.concatenate((left.name, right.name)), return_inverse=True)[1]
    width = int(numbers.max()) + 1 if len(numbers) else 1
    ours, theirs = left.tally(numbers[: len(left.name)], width), right.tally(numbers[len(left.name) :], width)
    common = np.minimum(ours[:, None, :], theirs[None, :, :]).sum(axis=2)
    return common, ours.sum(axis=1)[:, None] + theirs.sum(axis=1)[None, :]


def best_pairing(gain: list[list[int]]) -> list[tuple[int, int]]:
    """Pairs, rising on both sides, of the greatest total gain; a pair that gains nothing is not taken."""
    height, width = len(gain), len(gain[0])
    best = [[0] * (width + 1) for _ in range(height + 1)]
    for i in range(height - 1, -1, -1):
        row, below, gains = best[i], best[i + 1], gain[i]
        for j in range(width - 1, -1, -1):
            row[j] = max(below[j + 1] + gains[j], below[j], row[j + 1])
    pairs = []
    i = j = 0
    while i < height and j < width:
        if gain[i][j] and best[i][j] == best[i + 1][j + 1] + gain[i][j]:
            pairs.append((i, j))
            i, j = i + 1, j + 1
        elif best[i][j] == best[i + 1][j]:
            i += 1
        else:
            j += 1
    return pairs
