"""Pair blocks by likeness where a window is small enough to weigh every block against every other.

A key says equal or not. Here two free blocks of one window are alike by the share of their words that are equal, words
that share only their letter counting half, and the pairing of greatest likeness that keeps the order is taken. So a
clamp code taken out of `G50 S2500`, or a skip mark put before a block, stays an edit inside one block. A pair below
`LEAST` stays apart: rather removed and added than a false match.
"""

from __future__ import annotations

from dataclasses import dataclass

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

_WINDOW_COST = 128  # cells that take as long as opening a window, measured


@dataclass(frozen=True, slots=True, eq=False)
class _Names:
    """Two names per word: what it says, and its letter. 0 takes no part."""

    row: Index
    exact: Keys
    letter: Keys

    def of(self, blocks: Index) -> tuple[Index, Keys]:
        """The names in these blocks, and for each the place of its block among them."""
        owner, offset = spread(self.row[blocks + 1] - self.row[blocks])
        word = self.row[blocks][owner] + offset
        names = np.concatenate((self.exact[word], self.letter[word]))
        return np.tile(owner, 2)[names != 0], names[names != 0]


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
        pairs = best_pairing(likeness(left_names.of(left), right_names.of(right), len(left), len(right)))
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
    return _Names(words.row, word_hashes(words, LADDER[0]), word_hashes(words, LADDER[-1]))


def likeness(left: tuple[Index, Keys], right: tuple[Index, Keys], left_count: int, right_count: int) -> list[list[int]]:
    """Thousandths of the names that every left block has in common with every right one, as multisets."""
    names = np.unique(np.concatenate((left[1], right[1])), return_inverse=True)[1]
    width = int(names.max()) + 1 if len(names) else 1
    ours = _tally(left[0], names[: len(left[0])], left_count, width)
    theirs = _tally(right[0], names[len(left[0]) :], right_count, width)
    common = np.minimum(ours[:, None, :], theirs[None, :, :]).sum(axis=2)
    total = ours.sum(axis=1)[:, None] + theirs.sum(axis=1)[None, :]
    result: list[list[int]] = (2000 * common // np.maximum(total, 1)).tolist()
    return result


def _tally(owner: Index, name: Index, height: int, width: int) -> Index:
    return np.bincount(owner * width + name, minlength=height * width).reshape(height, width)


def best_pairing(score: list[list[int]]) -> list[tuple[int, int]]:
    """Pairs, rising on both sides, of the greatest total of squared scores; pairs below `LEAST` are not to be had.

    Squares, so that one good pair outweighs two poor ones.
    """
    height, width = len(score), len(score[0])
    gain = [[value * value if value >= LEAST else 0 for value in row] for row in score]
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
