"""The search in one window where keys repeat: a table while it is small, else an edit script, else tables in strides.

Cost is linear in the blocks of the window: a table of SIDE by SIDE costs a microsecond per block, the edit script stops
at a limit, and strides advance by at least a quarter of a table each.
"""

from __future__ import annotations

import numpy as np

from verifier.compare.align_anchor import Index, pairs_of
from verifier.compare.align_lcs import common_subsequence
from verifier.compare.align_myers import DENSE, EXACT, Work, edit_script_runs

SIDE = 4096
"""A window of up to SIDE * SIDE pairs is solved exactly by one table (2 MB of bits)."""

_BITS_PER_CELL = 512  # table bits that take as long as one cell of the edit script, measured
_CELLS_PER_BLOCK = 4


def search(old: Index, new: Index, work: Work) -> tuple[Index, Index]:
    """Pairs of places, rising on both sides, that hold equal names; `old` and `new` number their keys from 0."""
    if len(old) * len(new) <= SIDE * SIDE:
        return _table(old, new, work)
    from_old = from_new = 0
    pair_old, pair_new = np.zeros(0, np.int64), np.zeros(0, np.int64)
    if _script_pays(old, new, work):
        runs, (from_old, from_new) = edit_script_runs(old.astype(np.uint64), new.astype(np.uint64), work)
        pair_old, pair_new = pairs_of(runs)
    rest_old, rest_new = _strides(old[from_old:], new[from_new:], work)
    return np.concatenate((pair_old, rest_old + from_old)), np.concatenate((pair_new, rest_new + from_new))


def _script_pays(old: Index, new: Index, work: Work) -> bool:
    """Whether an edit script can still be short: every block without a counterpart in the other multiset is an edit."""
    size = int(max(old.max(), new.max())) + 1
    common = int(np.minimum(np.bincount(old, minlength=size), np.bincount(new, minlength=size)).sum())
    blocks = len(old) + len(new)
    return work.left > 0 and blocks - 2 * common <= max(EXACT, int(DENSE * blocks))


def _table(old: Index, new: Index, work: Work) -> tuple[Index, Index]:
    work.cells += len(old) * len(new) // _BITS_PER_CELL + _CELLS_PER_BLOCK * (len(old) + len(new))
    pairs = np.array(common_subsequence(old.tolist(), new.tolist()), np.int64).reshape(-1, 2)
    return pairs[:, 0], pairs[:, 1]


def _strides(old: Index, new: Index, work: Work) -> tuple[Index, Index]:
    """Solve a table at the present place, keep the first half of it, go on from there."""
    at_old = at_new = 0
    kept_old, kept_new = [np.zeros(0, np.int64)], [np.zeros(0, np.int64)]
    while at_old < len(old) and at_new < len(new):
        last = (len(old) - at_old) * (len(new) - at_new) <= SIDE * SIDE
        ahead_old, ahead_new = (None, None) if last else (at_old + SIDE, at_new + SIDE)
        pair_old, pair_new = _table(old[at_old:ahead_old], new[at_new:ahead_new], work)
        work.strides += 1
        keep = len(pair_old) if last else int(np.searchsorted(pair_old + pair_new, SIDE))
        kept_old.append(pair_old[:keep] + at_old)
        kept_new.append(pair_new[:keep] + at_new)
        if last:
            break
        step_old, step_new = (int(pair_old[keep - 1]) + 1, int(pair_new[keep - 1]) + 1) if keep else (0, 0)
        if step_old + step_new < SIDE // 2:
            step_old = step_new = SIDE // 2
        at_old, at_new = at_old + step_old, at_new + step_new
    return np.concatenate(kept_old), np.concatenate(kept_new)
