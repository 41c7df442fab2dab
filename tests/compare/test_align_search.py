"""The three searches in a window where keys repeat, against the classical table."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from verifier.compare import align_search
from verifier.compare.align_anchor import pairs_of
from verifier.compare.align_lcs import common_subsequence
from verifier.compare.align_myers import Work, edit_script_runs
from verifier.compare.align_search import search

if TYPE_CHECKING:
    from collections.abc import Sequence

few = st.lists(st.integers(0, 3), max_size=40)


def longest_common(old: Sequence[int], new: Sequence[int]) -> int:
    row = [0] * (len(new) + 1)
    for left in old:
        before, row = row, [0]
        for at, right in enumerate(new):
            row.append(before[at] + 1 if left == right else max(row[at], before[at + 1]))
    return row[-1]


def rises(values: np.ndarray) -> bool:
    return bool(np.all(np.diff(values) > 0))


@given(few, few)
def test_the_table_finds_a_longest_common_subsequence(old: list[int], new: list[int]) -> None:
    pairs = common_subsequence(old, new)
    assert all(old[i] == new[j] for i, j in pairs)
    assert all(a < c and b < d for (a, b), (c, d) in pairwise(pairs))
    assert len(pairs) == longest_common(old, new)


@given(few, few)
@settings(max_examples=150, deadline=None)
def test_the_edit_script_is_a_shortest_one(old: list[int], new: list[int]) -> None:
    runs, place = edit_script_runs(np.array(old, np.uint64), np.array(new, np.uint64), Work(10**9))
    pair_old, pair_new = pairs_of(runs)
    assert place == (len(old), len(new))
    assert rises(pair_old) and rises(pair_new)
    assert [old[i] for i in pair_old] == [new[j] for j in pair_new]
    assert len(pair_old) == longest_common(old, new)


@given(few, few, st.integers(2, 6), st.integers(1, 20_000))
@settings(max_examples=150, deadline=None)
def test_an_edit_script_cut_short_is_a_true_beginning(old: list[int], new: list[int], exact: int, limit: int) -> None:
    runs, place = edit_script_runs(np.array(old, np.uint64), np.array(new, np.uint64), Work(limit), exact)
    pair_old, pair_new = pairs_of(runs)
    assert rises(pair_old) and rises(pair_new)
    assert [old[i] for i in pair_old] == [new[j] for j in pair_new]
    assert all(i < place[0] for i in pair_old) and all(j < place[1] for j in pair_new)


def test_an_edit_script_in_many_searches_comes_near_the_longest() -> None:
    rng = np.random.default_rng(2)
    old = rng.integers(0, 5, 8000).astype(np.uint64)
    new = np.delete(old, rng.integers(0, 8000, 30))
    new[rng.integers(0, len(new), 10)] = 9
    whole, _ = edit_script_runs(old, new, Work(10**9))
    parts, place = edit_script_runs(old, new, Work(10**9), exact=8)
    assert place == (len(old), len(new))
    assert int(whole[:, 2].sum()) >= int(parts[:, 2].sum()) >= 0.999 * int(whole[:, 2].sum())


def test_snakes_longer_than_the_largest_gram_are_followed_to_their_end() -> None:
    old = np.tile(np.arange(7, dtype=np.uint64), 1500)
    new = np.concatenate((old[:6000], old[6001:], old[:3]))
    runs, _ = edit_script_runs(old, new, Work(10**9))
    assert int(runs[:, 2].sum()) == len(old) - 1


@given(few, few)
@settings(max_examples=100, deadline=None)
def test_strides_keep_order_and_names(old: list[int], new: list[int]) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(align_search, "SIDE", 8)
        patch.setattr(align_search, "EXACT", 0)
        work = Work(10**9)
        pair_old, pair_new = search(np.array(old or [0], np.int64), np.array(new or [0], np.int64), work)
    assert rises(pair_old) and rises(pair_new)
    assert [(old or [0])[i] for i in pair_old] == [(new or [0])[j] for j in pair_new]
    assert work.strides <= (len(old) + len(new)) / 4 + 1  # each advances by SIDE / 2 or more


def test_strides_come_near_the_longest() -> None:
    rng = np.random.default_rng(11)
    found = longest = 0
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(align_search, "SIDE", 64)
        patch.setattr(align_search, "EXACT", 0)
        for _ in range(10):
            old = rng.integers(0, 6, 400)
            new = np.delete(old, rng.integers(0, 400, 30))
            new[rng.integers(0, len(new), 30)] = 5
            found += len(search(old, new, Work(0))[0])
            longest += longest_common(old.tolist(), new.tolist())
    assert found >= 0.97 * longest
