"""Moves: blocks unique on both sides that stand off the main line, in runs grown over equal free neighbours."""

from __future__ import annotations

import numpy as np

from verifier.compare.align_anchor import Index, Keys, Mask, heaviest_chain, pairs_of, runs_of, shared_keys
from verifier.compare.align_state import State, open_windows

STRONG_RUN = 4
"""A moved run this long is taken before the windows are searched; common practice, no source."""


def strong_moves(state: State, rung: int, old: Keys, new: Keys, least: int) -> None:
    """Take long runs of unique keys that can't stand on the main line, before its windows eat their neighbours."""
    pair_old, pair_new = _unique_pairs(state, old, new)
    if not len(pair_old):
        return
    on_line = _on_main_line(state, pair_old, pair_new)
    if bool(on_line.all()):
        return
    state.put(pair_old[on_line], pair_new[on_line], rung)
    _take_runs(state, rung, old, new, runs_of(pair_old[~on_line], pair_new[~on_line]), max(least, STRONG_RUN))


NEAR = 8
"""Blocks that a short run may be away from its place and still be called moved; common practice, no source."""


def all_moves(state: State, rung: int, old: Keys, new: Keys, least: int) -> bool:
    """Take the moved runs of at least `least` blocks that are still free; whether there were any."""
    return _take_runs(state, rung, old, new, runs_of(*_unique_pairs(state, old, new)), least)


def near_moves(state: State, rung: int, old: Keys, new: Keys) -> None:
    """Take moved runs of any length near their place. A block alone far away would rather be a chance likeness."""
    runs = runs_of(*_unique_pairs(state, old, new))
    _take_runs(state, rung, old, new, runs[_distance(state, runs) <= NEAR], 1)


def _distance(state: State, runs: Index) -> Index:
    """How far each run is, in the new sequence, from the gap of the main line in which its old place lies."""
    main_old = np.flatnonzero((state.old_to_new >= 0) & ~state.moved)
    main_new = np.concatenate(([-1], state.old_to_new[main_old], [len(state.new_to_old)]))
    gap = np.searchsorted(main_old, runs[:, 0])
    first, last = runs[:, 1], runs[:, 1] + runs[:, 2] - 1
    away: Index = np.maximum(np.maximum(main_new[gap] - last, first - main_new[gap + 1]), 0)
    return away


def grow_moves(state: State, rung: int, old: Keys, new: Keys) -> None:
    """Grow every long moved run over free neighbours that are equal at this rung; a short one would grow by chance."""
    moved = np.flatnonzero(state.moved)
    runs = runs_of(moved, state.old_to_new[moved])
    runs = runs[runs[:, 2] >= STRONG_RUN]
    for step, edge in ((1, runs[:, 2]), (-1, np.full(len(runs), -1))):
        at_old, at_new = runs[:, 0] + edge, runs[:, 1] + edge
        for place in np.flatnonzero(_open_and_equal(state, old, new, at_old, at_new)).tolist():
            _grow(state, rung, old, new, int(at_old[place]), int(at_new[place]), step)


def _unique_pairs(state: State, old: Keys, new: Keys) -> tuple[Index, Index]:
    free_old, free_new = state.free()
    shared = shared_keys(old[free_old], new[free_new])
    pair_old, pair_new = free_old[shared.old], free_new[shared.new]
    equal = old[pair_old] == new[pair_new]
    return pair_old[equal], pair_new[equal]


def _on_main_line(state: State, pair_old: Index, pair_new: Index) -> Mask:
    """Mask of the pairs that stand in one window of the main line and on the heaviest chain there."""
    windows = open_windows(state)
    home_old = np.full(len(state.old_to_new), -1, np.int64)
    home_new = np.full(len(state.new_to_old), -2, np.int64)
    home_old[windows.old] = np.where(windows.moved[windows.old_window], -1, windows.old_window)
    home_new[windows.new] = windows.new_window
    on_line: Mask = home_old[pair_old] == home_new[pair_new]
    on_line[on_line] = heaviest_chain(pair_new[on_line])
    return on_line


def _open_and_equal(state: State, old: Keys, new: Keys, at_old: Index, at_new: Index) -> Mask:
    """Mask of places that exist, are free and equal on both sides."""
    inside = (at_old >= 0) & (at_old < len(old)) & (at_new >= 0) & (at_new < len(new))
    i, j = np.where(inside, at_old, 0), np.where(inside, at_new, 0)
    open_places: Mask = inside & (state.old_to_new[i] < 0) & (state.new_to_old[j] < 0) & (old[i] == new[j])
    return open_places


def _take_runs(state: State, rung: int, old: Keys, new: Keys, runs: Index, least: int) -> bool:
    """Grow each run both ways and take it when it is long enough then."""
    after = _open_and_equal(state, old, new, runs[:, 0] + runs[:, 2], runs[:, 1] + runs[:, 2])
    grows = after | _open_and_equal(state, old, new, runs[:, 0] - 1, runs[:, 1] - 1)
    ready = runs[~grows & (runs[:, 2] >= least)]
    state.put(*pairs_of(ready), rung, True)  # a run that can't grow is not grown over either: its keys are unique
    return _grow_and_take(state, rung, old, new, runs[grows], least) or len(ready) > 0


def _grow_and_take(state: State, rung: int, old: Keys, new: Keys, runs: Index, least: int) -> bool:
    taken = False
    for first_old, first_new, length in runs.tolist():
        if state.old_to_new[first_old] >= 0:
            continue  # grown over by the run before
        after = _growth(state, old, new, first_old + length, first_new + length, 1)
        before = _growth(state, old, new, first_old - 1, first_new - 1, -1)
        if before + length + after >= least:
            block = np.arange(-before, length + after)
            state.put(first_old + block, first_new + block, rung, True)
            taken = True
    return taken


def _grow(state: State, rung: int, old: Keys, new: Keys, at_old: int, at_new: int, step: int) -> None:
    block = step * np.arange(_growth(state, old, new, at_old, at_new, step))
    state.put(at_old + block, at_new + block, rung, True)


def _growth(state: State, old: Keys, new: Keys, at_old: int, at_new: int, step: int) -> int:
    """How many blocks from these places on, going by `step`, are free and equal on both sides."""
    room = min(len(old) - at_old, len(new) - at_new) if step > 0 else min(at_old, at_new) + 1
    grown, reach = 0, 16
    while grown < room:
        block = step * np.arange(grown, min(grown + reach, room))
        i, j = at_old + block, at_new + block
        stop = np.flatnonzero((state.old_to_new[i] >= 0) | (state.new_to_old[j] >= 0) | (old[i] != new[j]))
        if len(stop):
            return grown + int(stop[0])
        grown += len(block)
        reach *= 2
    return grown
