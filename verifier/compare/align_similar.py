"""The last step: pair blocks that agree at no rung but have most of their words in common, in small windows only.

A word added to a block or taken out of it changes its key at every rung; so a clamp code taken out of `G50 S2500` would
look like one block removed and another added. Here two free blocks of one window are alike by the share of their words
that are equal, words that share only their letter counting half, and the pairing of greatest likeness that keeps the
order is taken. A pair below `LEAST` stays apart: rather removed and added than a false match.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from verifier.compare.align import Alignment, goes_second
from verifier.compare.align_anchor import Index, Keys, spread
from verifier.compare.align_state import State, open_windows
from verifier.compare.keys import LADDER, Words, block_keys, word_hashes

LEAST = 500
"""Thousandths of likeness from which two blocks are one edited block; common practice, no source."""

SIDE = 16
"""Windows with more free blocks on a side are left alone: too many to tell who is whom."""

MAX_WINDOWS = 20_000
"""Windows looked at, first ones first: a bound on time, reached only where nearly everything was rewritten."""


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


def pair_similar(found: Alignment, old: Words, new: Words, rung: int) -> Alignment:
    """The same alignment with similar blocks paired at rung number `rung`; mirrored exactly when all is exchanged."""
    if goes_second(block_keys(old, LADDER[0]), block_keys(new, LADDER[0])):
        return pair_similar(found.mirrored(), new, old, rung).mirrored()
    state = State(len(found.old_to_new), len(found.new_to_old))
    taken, partner = found.pairs()
    state.put(taken, partner, found.rung[taken], found.moved[taken])
    windows = open_windows(state)
    left_height, right_height = windows.heights()
    small = np.flatnonzero((left_height <= SIDE) & (right_height <= SIDE))[:MAX_WINDOWS]
    left_names, right_names = _names(old), _names(new)
    for window in small.tolist():
        left = windows.old[windows.old_bounds[window] : windows.old_bounds[window + 1]]
        right = windows.new[windows.new_bounds[window] : windows.new_bounds[window + 1]]
        pairs = best_pairing(likeness(left_names.of(left), right_names.of(right), len(left), len(right)))
        at_old, at_new = (np.array([pair[side] for pair in pairs], np.int64) for side in (0, 1))
        state.put(left[at_old], right[at_new], rung, bool(windows.moved[window]))
    return Alignment(state.old_to_new, state.new_to_old, state.rung, state.moved)


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
    """Pairs, rising on both sides, of the greatest total score; pairs below `LEAST` are not to be had."""
    height, width = len(score), len(score[0])
    best = [[0] * (width + 1) for _ in range(height + 1)]
    for i in range(height - 1, -1, -1):
        for j in range(width - 1, -1, -1):
            paired = best[i + 1][j + 1] + score[i][j] if score[i][j] >= LEAST else 0
            best[i][j] = max(paired, best[i + 1][j], best[i][j + 1])
    pairs = []
    i = j = 0
    while i < height and j < width:
        if score[i][j] >= LEAST and best[i][j] == best[i + 1][j + 1] + score[i][j]:
            pairs.append((i, j))
            i, j = i + 1, j + 1
        elif best[i][j] == best[i + 1][j]:
            i += 1
        else:
            j += 1
    return pairs
