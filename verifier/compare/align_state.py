"""The state of an alignment in the making, and the windows that are still open in it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from verifier.compare.align_anchor import EMPTY, Index, Mask, spread


class State:
    """Pairs found so far. `old_to_new`, `new_to_old`: partner or -1; `rung` and `moved` per old block."""

    def __init__(self, old_count: int, new_count: int) -> None:
        self.old_to_new: Index = np.full(old_count, -1, np.int64)
        self.new_to_old: Index = np.full(new_count, -1, np.int64)
        self.rung: NDArray[np.int8] = np.full(old_count, -1, np.int8)
        self.moved: Mask = np.zeros(old_count, bool)

    def put(self, old: Index, new: Index, rung: int | NDArray[np.int8], moved: bool | Mask = False) -> None:
        """Match these blocks; all must be free."""
        self.old_to_new[old] = new
        self.new_to_old[new] = old
        self.rung[old] = rung
        self.moved[old] = moved

    def free(self) -> tuple[Index, Index]:
        """Block numbers without a partner, on both sides."""
        return np.flatnonzero(self.old_to_new < 0), np.flatnonzero(self.new_to_old < 0)


@dataclass(frozen=True, slots=True)
class Windows:
    """The stretches between matched blocks in which both sides still have free blocks.

    `old`, `new` are the free blocks that stand in a window, window by window and rising within it; `old_window`,
    `new_window` say which window each belongs to; `old_bounds`, `new_bounds` (one longer than the windows) cut the
    arrays into windows. `moved` per window: whether it lies inside a moved stretch.
    """

    old: Index
    new: Index
    old_window: Index
    new_window: Index
    old_bounds: Index
    new_bounds: Index
    moved: Mask

    def __len__(self) -> int:
        return len(self.moved)

    def heights(self) -> tuple[Index, Index]:
        """Free blocks per window on both sides, each at least 1."""
        return np.diff(self.old_bounds), np.diff(self.new_bounds)


def open_windows(state: State) -> Windows:
    """All windows of this state, in O(n).

    A window of the main line lies between two neighbours among the pairs that did not move (moved blocks in it are
    passed over). A moved window lies between two moved pairs with nothing but free blocks between them on both sides.
    """
    free_old, free_new = state.free()
    taken_old, taken_new = state.old_to_new >= 0, state.new_to_old >= 0
    moved_new = np.zeros(len(taken_new), bool)
    moved_new[taken_new] = state.moved[state.new_to_old[taken_new]]
    gap_old = _count(taken_old & ~state.moved)[free_old]
    gap_new = _count(taken_new & ~moved_new)[free_new]
    first_moved = len(state.old_to_new) + 1
    if bool(state.moved.any()):
        by_old, by_new = _moved_gaps(state, taken_old, taken_new)
        gap_old = _override(gap_old, by_old[_count(taken_old)[free_old]], first_moved)
        gap_new = _override(gap_new, by_new[_count(taken_new)[free_new]], first_moved)
    old, old_gap = _sorted_by_gap(free_old, gap_old)
    new, new_gap = _sorted_by_gap(free_new, gap_new)
    shared = np.intersect1d(_distinct(old_gap), _distinct(new_gap), assume_unique=True)
    old, old_window = _within(old, old_gap, shared)
    new, new_window = _within(new, new_gap, shared)
    count = np.arange(len(shared) + 1)
    old_bounds, new_bounds = np.searchsorted(old_window, count), np.searchsorted(new_window, count)
    return Windows(old, new, old_window, new_window, old_bounds, new_bounds, shared >= first_moved)


def _moved_gaps(state: State, taken_old: Mask, taken_new: Mask) -> tuple[Index, Index]:
    """Per number of matched blocks before a place (old count, new count): the moved gap at that place, or -1."""
    old = np.flatnonzero(taken_old)
    new = state.old_to_new[old]
    rank = _count(taken_new)[new]
    moved = state.moved[old]
    opens = moved[:-1] & moved[1:] & (np.diff(rank) == 1) & (np.diff(old) > 1) & (np.diff(new) > 1)
    place = np.flatnonzero(opens)
    by_old, by_new = np.full(len(old) + 1, -1, np.int64), np.full(len(old) + 1, -1, np.int64)
    by_old[place + 1] = by_new[rank[place]] = np.arange(len(place))
    return by_old, by_new


def _count(mask: Mask) -> Index:
    """How many are set up to and with each place."""
    return np.cumsum(mask, dtype=np.int64)


def _override(gap: Index, moved_gap: Index, base: int) -> Index:
    return np.where(moved_gap >= 0, moved_gap + base, gap)


def _sorted_by_gap(free: Index, gap: Index) -> tuple[Index, Index]:
    if len(gap) < 2 or bool(np.all(np.diff(gap) >= 0)):
        return free, gap
    order = np.argsort(gap, kind="stable")
    return free[order], gap[order]


def _distinct(rising: Index) -> Index:
    first: Mask = np.diff(rising, prepend=-1) != 0
    return rising[first]


def _within(free: Index, gap: Index, shared: Index) -> tuple[Index, Index]:
    """Only the blocks in shared gaps, and the number of the gap among the shared ones."""
    if not len(shared):
        return EMPTY, EMPTY
    window = np.minimum(np.searchsorted(shared, gap), len(shared) - 1)
    inside = shared[window] == gap
    return free[inside], window[inside]


def equal_ends(
    windows: Windows, old_keys: NDArray[np.uint64], new_keys: NDArray[np.uint64]
) -> tuple[Index, Index, Mask]:
    """Pairs of equal blocks at the start and at the end of every window, for all windows at once, and whether moved.

    A window of equal height whose keys agree block by block is settled whole by this. `old_keys`, `new_keys` are those
    of `windows.old`, `windows.new`.
    """
    old_height, new_height = windows.heights()
    height = np.minimum(old_height, new_height)
    head = _agreeing(height, windows.old_bounds[:-1], windows.new_bounds[:-1], 1, old_keys, new_keys)
    tail = _agreeing(height - head, windows.old_bounds[1:] - 1, windows.new_bounds[1:] - 1, -1, old_keys, new_keys)
    owner, offset = spread(head)
    tail_owner, tail_offset = spread(tail)
    at_old = np.concatenate((windows.old_bounds[owner] + offset, windows.old_bounds[tail_owner + 1] - 1 - tail_offset))
    at_new = np.concatenate((windows.new_bounds[owner] + offset, windows.new_bounds[tail_owner + 1] - 1 - tail_offset))
    moved = windows.moved[np.concatenate((owner, tail_owner))]
    return windows.old[at_old], windows.new[at_new], moved


def _agreeing(
    limit: Index, old_from: Index, new_from: Index, step: int, old: NDArray[np.uint64], new: NDArray[np.uint64]
) -> Index:
    """Per window, how many keys agree from these places on, at most `limit`."""
    length = limit.copy()
    owner, offset = spread(limit)
    equal = old[old_from[owner] + step * offset] == new[new_from[owner] + step * offset]
    differs = np.flatnonzero(~equal)
    window, first = np.unique(owner[differs], return_index=True)
    length[window] = offset[differs[first]]
    return length
