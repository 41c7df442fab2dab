"""Whole sections (tool sequences) as the coarsest anchors: identical ones by content, others by a key of their own."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from verifier.compare.align_anchor import Index, Keys, Mask, heaviest_chain, mix, shared_keys, spread
from verifier.compare.align_state import State
from verifier.source import VerifierError

MAX_KEYED = 256
"""Sections matched by their own key are aligned one by one; with more of them than this the blocks decide alone."""

_GOLDEN = np.uint64(0x9E3779B97F4A7C15)

Align = Callable[[slice, slice], State]


@dataclass(frozen=True, slots=True)
class Sections:
    """Sections of one side: `start` and `end` block of each, and a key for matching; key 0 matches nothing."""

    start: Index
    end: Index
    key: Keys


def sections_of(start: Index, key: Keys | None, count: int) -> Sections:
    """Sections from their start blocks; blocks before the first start make one more section without a key.

    Raises VerifierError where the starts do not rise strictly inside the sequence, or the keys are not one per start.
    """
    start = np.asarray(start, np.int64)
    key = np.zeros(len(start), np.uint64) if key is None else np.asarray(key, np.uint64)
    if len(key) != len(start):
        raise VerifierError(f"got {len(key)} section keys for {len(start)} sections, expected one for each")
    if len(start) and (start[0] < 0 or start[-1] >= count or bool(np.any(np.diff(start) <= 0))):
        raise VerifierError("section starts must rise strictly and lie inside the sequence")
    if count and (not len(start) or start[0] > 0):
        start, key = np.concatenate(([0], start)), np.concatenate((np.zeros(1, np.uint64), key))
    return Sections(start, np.append(start[1:], count)[: len(start)], key)


def match_sections(
    state: State, old: Keys, new: Keys, old_sections: Sections, new_sections: Sections, inner: Align
) -> None:
    """Match identical sections, and align inside sections that share a key their blocks agree to.

    The sections on the heaviest chain (by blocks in common) stand on the main line, the others are moved.
    """
    same_old, same_new = _identical(old, new, old_sections, new_sections)
    keyed_old, keyed_new = _keyed(old_sections, new_sections, same_old, same_new)
    agreed = _agreed(old, new, old_sections, new_sections, keyed_old, keyed_new)
    keyed_old, keyed_new = keyed_old[agreed], keyed_new[agreed]
    weight = np.concatenate(
        (
            (old_sections.end - old_sections.start)[same_old],
            _in_common(old, new, old_sections, new_sections, keyed_old, keyed_new),
        )
    )
    pair_old, pair_new = np.concatenate((same_old, keyed_old)), np.concatenate((same_new, keyed_new))
    same = np.arange(len(pair_old)) < len(same_old)
    order = np.argsort(pair_old)
    on_line = heaviest_chain(pair_new[order], weight[order])
    for place, on in zip(order.tolist(), on_line.tolist(), strict=True):
        at_old, at_new = int(pair_old[place]), int(pair_new[place])
        left = slice(int(old_sections.start[at_old]), int(old_sections.end[at_old]))
        right = slice(int(new_sections.start[at_new]), int(new_sections.end[at_new]))
        if same[place]:
            state.put(np.arange(left.start, left.stop), np.arange(right.start, right.stop), 0, not on)
        else:
            _put_inner(state, inner(left, right), left.start, right.start, not on)


def _put_inner(state: State, found: State, old_from: int, new_from: int, moved: bool) -> None:
    old = np.flatnonzero(found.old_to_new >= 0)
    at = old + old_from
    state.put(at, found.old_to_new[old] + new_from, 0, found.moved[old] | moved)
    state.rung[at] = found.rung[old]


def _identical(old: Keys, new: Keys, old_sections: Sections, new_sections: Sections) -> tuple[Index, Index]:
    shared = shared_keys(_content(old, old_sections), _content(new, new_sections))
    equal = [
        np.array_equal(
            old[old_sections.start[i] : old_sections.end[i]], new[new_sections.start[j] : new_sections.end[j]]
        )
        for i, j in zip(shared.old.tolist(), shared.new.tolist(), strict=True)
    ]
    keep = np.array(equal, bool)
    return shared.old[keep], shared.new[keep]


def _content(keys: Keys, sections: Sections) -> Keys:
    """One hash per section over its keys in their order."""
    _, offset = spread(sections.end - sections.start)
    if not len(offset):
        return np.zeros(0, np.uint64)
    hashes = mix(keys[int(sections.start[0]) :] + offset.astype(np.uint64) * _GOLDEN)
    return np.add.reduceat(hashes, sections.start - sections.start[0])


def _keyed(old: Sections, new: Sections, same_old: Index, same_new: Index) -> tuple[Index, Index]:
    """Sections that are alone with their key on both sides and not matched by content."""
    shared = shared_keys(old.key, new.key)
    left, right = shared.old, shared.new
    keep = (old.key[left] != 0) & ~np.isin(left, same_old) & ~np.isin(right, same_new)
    if int(keep.sum()) > MAX_KEYED:
        keep[:] = False
    return left[keep], right[keep]


def _agreed(old: Keys, new: Keys, old_sections: Sections, new_sections: Sections, left: Index, right: Index) -> Mask:
    """Whether the blocks agree to pairs of sections: those that occur once on both sides vote for the pair they lie in.

    A pair stands if no other pairing of either section has more votes. So tools that only changed their numbers don't
    drag their sections apart.
    """
    shared = shared_keys(old, new)
    home_old = np.searchsorted(old_sections.start, shared.old, "right") - 1
    home_new = np.searchsorted(new_sections.start, shared.new, "right") - 1
    width = len(new_sections.start) + 1
    pairing, votes = np.unique(home_old * width + home_new, return_counts=True)
    most_old, most_new = np.zeros(len(old_sections.start), np.int64), np.zeros(width, np.int64)
    np.maximum.at(most_old, pairing // width, votes)
    np.maximum.at(most_new, pairing % width, votes)
    place = np.searchsorted(pairing, left * width + right)
    held = np.append(pairing, -1)[place] == left * width + right
    own = np.where(held, np.append(votes, 0)[place], 0)
    agreed: Mask = (own >= most_old[left]) & (own >= most_new[right])
    return agreed


def _in_common(
    old: Keys, new: Keys, old_sections: Sections, new_sections: Sections, left: Index, right: Index
) -> Index:
    """Blocks in common per pair of sections, as multisets; at least 1."""
    counts = []
    for i, j in zip(left.tolist(), right.tolist(), strict=True):
        ours = old[old_sections.start[i] : old_sections.end[i]]
        theirs = new[new_sections.start[j] : new_sections.end[j]]
        names = np.unique(np.concatenate((ours, theirs)), return_inverse=True)[1]
        tallies = [np.bincount(part, minlength=int(names.max()) + 1) for part in np.split(names, [len(ours)])]
        counts.append(max(1, int(np.minimum(*tallies).sum())))
    return np.array(counts, np.int64)
