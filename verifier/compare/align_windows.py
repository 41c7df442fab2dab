"""Settling the open windows at one rung: equal ends, anchors unique in their window, then a search in what is left."""

from __future__ import annotations

import numpy as np

from verifier.compare.align_anchor import Keys, Shared, heaviest_chain, mix, shared_keys
from verifier.compare.align_myers import Work
from verifier.compare.align_search import search
from verifier.compare.align_state import State, Windows, equal_ends, open_windows

MAX_ROUNDS = 32
"""Rounds of anchoring per rung; windows left after that are searched as they are."""


def settle(state: State, rung: int, old: Keys, new: Keys, work: Work) -> None:
    """Match what can be matched at this rung inside the open windows."""
    for _ in range(MAX_ROUNDS):
        windows = open_windows(state)
        if not len(windows):
            return
        work.rounds += 1
        if _take_ends(state, rung, windows, old, new):
            windows = open_windows(state)
            if not len(windows):
                return
        shared = _shared_in_windows(windows, old, new)
        if not _take_anchors(state, rung, windows, shared, old, new):
            break
    _search_all(state, rung, windows, shared, old, new, work)


def _take_ends(state: State, rung: int, windows: Windows, old: Keys, new: Keys) -> bool:
    pair_old, pair_new, moved = equal_ends(windows, old[windows.old], new[windows.new])
    state.put(pair_old, pair_new, rung, moved)
    return len(pair_old) > 0


def _shared_in_windows(windows: Windows, old: Keys, new: Keys) -> Shared:
    """Keys shared inside one window: the window takes part in the key."""
    salt = mix(np.arange(1, len(windows) + 1, dtype=np.uint64))
    return shared_keys(
        mix(old[windows.old] + salt[windows.old_window]), mix(new[windows.new] + salt[windows.new_window])
    )


def _take_anchors(state: State, rung: int, windows: Windows, shared: Shared, old: Keys, new: Keys) -> bool:
    """Match the heaviest chain of keys that are unique in their window; all windows at once, as they stand in order."""
    pair_old, pair_new = windows.old[shared.old], windows.new[shared.new]
    real = (old[pair_old] == new[pair_new]) & (windows.old_window[shared.old] == windows.new_window[shared.new])
    at_old, at_new = shared.old[real], shared.new[real]
    keep = heaviest_chain(at_new)
    at_old, at_new = at_old[keep], at_new[keep]
    state.put(windows.old[at_old], windows.new[at_new], rung, windows.moved[windows.old_window[at_old]])
    return len(at_old) > 0


def _search_all(state: State, rung: int, windows: Windows, shared: Shared, old: Keys, new: Keys, work: Work) -> None:
    """Search each window that shares keys; only blocks whose key occurs on the other side take part."""
    old_at, new_at = np.flatnonzero(shared.old_partner), np.flatnonzero(shared.new_partner)
    count = np.arange(len(windows) + 1)
    old_cut = np.searchsorted(windows.old_window[old_at], count)
    new_cut = np.searchsorted(windows.new_window[new_at], count)
    names = np.unique(np.concatenate((old[windows.old[old_at]], new[windows.new[new_at]])), return_inverse=True)[1]
    old_names, new_names = names[: len(old_at)], names[len(old_at) :]
    for window in np.flatnonzero((np.diff(old_cut) > 0) & (np.diff(new_cut) > 0)).tolist():
        left, right = slice(*old_cut[window : window + 2]), slice(*new_cut[window : window + 2])
        pair_old, pair_new = search(old_names[left], new_names[right], work)
        at_old, at_new = old_at[left][pair_old], new_at[right][pair_new]
        state.put(windows.old[at_old], windows.new[at_new], rung, bool(windows.moved[window]))
