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
from verifier.compare.align_anchor import Index, Keys
from verifier.compare.align_rung import Rung
from verifier.compare.align_state import Windows, open_windows
from verifier.compare.keys import LADDER, Words, word_hashes

LEAST = 500
"""Thousandths of likeness from which two blocks are one edited block; common practice, no source."""

SIDE = 32
"""Windows with more free blocks on a side are left alone: too many to tell who is whom."""

CELLS = 2_000_000
"""Pairs of blocks weighed in one pass, first windows first: a bound on time, met where nearly all was rewritten."""

_ROUGH = replace(LADDER[2], name="coordinates in round numbers", round_to=0)
_WINDOW_COST = 128  # cells that take as long as opening a window, measured


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


@dataclass(frozen=True, slots=True, eq=False)
class _Names:
    """Three names per word: what it says, its letter, and its letter with the value in round numbers. 0 takes no part.

    `blocks` are the blocks looked at; those of window w stand from `bounds[w]` to `bounds[w + 1]`, and the words of the
    k-th block from `row[k]` to `row[k + 1]`.
    """

    blocks: Index
    bounds: Index
    row: Index
    exact: Keys
    letter: Keys
    rough: Keys

    def of(self, window: int) -> tuple[Index, Bag, Bag]:
        """The blocks of a window, their exact names and letters together, and their rough names."""
        start, end = self.bounds[window : window + 2].tolist()
        words = slice(*self.row[[start, end]].tolist())
        owner = np.repeat(np.arange(end - start), np.diff(self.row[start : end + 1]))
        fine = np.concatenate((self.exact[words], self.letter[words]))
        return (
            self.blocks[start:end],
            Bag(end - start, np.concatenate((owner, owner)), fine).counted(),
            Bag(end - start, owner, self.rough[words]).counted(),
        )


def pair_similar(found: Alignment, strict: Rung, words: tuple[Words, Words], rung: int, lonely: bool) -> Alignment:
    """The same alignment with similar blocks paired at rung number `rung`; mirrored exactly when all is exchanged.

    `strict` is the rung of all words, `words` are those of the old and the new blocks. `lonely`: whether to look at
    windows of one block on each side too, where there is nothing to choose.
    """
    if goes_second(strict.old, strict.new):
        return pair_similar(found.mirrored(), strict.exchanged(), words[::-1], rung, lonely).mirrored()
    state = found.state()
    windows = open_windows(state)
    chosen = _small(windows, lonely)
    left_names = _names(words[0], windows.old, windows.old_window, chosen)
    right_names = _names(words[1], windows.new, windows.new_window, chosen)
    for place, window in enumerate(chosen.tolist()):
        left, right = left_names.of(place), right_names.of(place)
        pairs = best_pairing(_gains(left[1:], right[1:]))
        at_old, at_new = (np.array([pair[side] for pair in pairs], np.int64) for side in (0, 1))
        state.put(left[0][at_old], right[0][at_new], rung, bool(windows.moved[window]))
    return Alignment(state.old_to_new, state.new_to_old, state.rung, state.moved)


def _small(windows: Windows, lonely: bool) -> Index:
    """The windows to look at."""
    left, right = windows.heights()
    small = np.flatnonzero((left <= SIDE) & (right <= SIDE) & (lonely | (left * right > 1)))
    return small[np.cumsum(left[small] * right[small] + _WINDOW_COST) <= CELLS]


def _names(words: Words, blocks: Index, window: Index, chosen: Index) -> _Names:
    """The names in the chosen windows; `window` says for each of `blocks` which one it is in."""
    inside = np.isin(window, chosen)
    taken = words.take(blocks[inside])
    bounds = np.append(np.searchsorted(window[inside], chosen), len(taken))
    readings = (LADDER[0], LADDER[-1], _ROUGH)
    return _Names(blocks[inside], bounds, taken.row, *(word_hashes(taken, reading) for reading in readings))


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
