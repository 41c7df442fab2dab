"""Unique keys, runs and the heaviest chain, each against a slow and plain reckoning."""

from __future__ import annotations

from collections import Counter
from itertools import combinations, pairwise

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from verifier.compare.align_anchor import heaviest_chain, mix, pairs_of, runs_of, shared_keys, spread

small = st.lists(st.integers(0, 8), max_size=20)


def test_mix_gives_the_published_sequence() -> None:
    """First outputs of splitmix64 from seed 1234567, from memory: the values printed with many ports of it."""
    step = 0x9E3779B97F4A7C15
    states = np.array([(1234567 + k * step) % 2**64 for k in (1, 2, 3)], np.uint64)
    assert mix(states).tolist() == [6457827717110365317, 3203168211198807973, 9817491932198370423]


@given(small, small)
def test_shared_keys_are_those_counted_once_on_each_side(old: list[int], new: list[int]) -> None:
    shared = shared_keys(np.array(old, np.uint64), np.array(new, np.uint64))
    ours, theirs = Counter(old), Counter(new)
    expected = [(i, new.index(v)) for i, v in enumerate(old) if ours[v] == theirs[v] == 1]
    assert list(zip(shared.old.tolist(), shared.new.tolist(), strict=True)) == expected
    assert shared.old_partner.tolist() == [v in theirs for v in old]
    assert shared.new_partner.tolist() == [v in ours for v in new]


@given(st.lists(st.tuples(st.integers(0, 30), st.integers(0, 30)), unique_by=lambda pair: pair[0]))
def test_runs_hold_exactly_the_pairs_they_were_made_of(pairs: list[tuple[int, int]]) -> None:
    pairs.sort()
    old, new = np.array([p[0] for p in pairs], np.int64), np.array([p[1] for p in pairs], np.int64)
    runs = runs_of(old, new)
    back_old, back_new = pairs_of(runs)
    assert np.array_equal(back_old, old) and np.array_equal(back_new, new)
    for (a, b, n), (c, d, _) in pairwise(runs.tolist()):
        assert (a + n, b + n) != (c, d)


def test_spread_numbers_the_elements_of_every_item() -> None:
    owner, offset = spread(np.array([2, 0, 3]))
    assert owner.tolist() == [0, 0, 2, 2, 2]
    assert offset.tolist() == [0, 1, 0, 1, 2]


@given(st.permutations(range(8)), st.lists(st.integers(1, 5), min_size=8, max_size=8))
@settings(max_examples=60, deadline=None)
def test_the_chain_rises_and_none_is_heavier(order: list[int], weight: list[int]) -> None:
    for loads in (None, np.array(weight, np.int64)):
        keep = heaviest_chain(np.array(order, np.int64), loads)
        load = weight if loads is not None else [1] * 8
        chosen = [k for k in range(8) if keep[k]]
        assert all(order[a] < order[b] for a, b in pairwise(chosen))
        best = max(
            sum(load[k] for k in some)
            for size in range(9)
            for some in combinations(range(8), size)
            if all(order[a] < order[b] for a, b in pairwise(some))
        )
        assert sum(load[k] for k in chosen) == best
