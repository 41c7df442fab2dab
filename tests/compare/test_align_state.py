"""Which windows are open in a state, and equal ends in them."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from verifier.compare.align_state import State, equal_ends, open_windows


def state_of(old_count: int, new_count: int, pairs: list[tuple[int, int, bool]]) -> State:
    state = State(old_count, new_count)
    for old, new, moved in pairs:
        state.put(np.array([old]), np.array([new]), 0, moved)
    return state


def shown(state: State) -> list[tuple[list[int], list[int], bool]]:
    windows = open_windows(state)
    return [
        (
            windows.old[windows.old_bounds[w] : windows.old_bounds[w + 1]].tolist(),
            windows.new[windows.new_bounds[w] : windows.new_bounds[w + 1]].tolist(),
            bool(windows.moved[w]),
        )
        for w in range(len(windows))
    ]


def test_an_empty_state_is_one_window() -> None:
    assert shown(State(2, 3)) == [([0, 1], [0, 1, 2], False)]
    assert shown(State(0, 3)) == []


def test_windows_lie_between_pairs_of_the_main_line_and_need_both_sides() -> None:
    state = state_of(6, 6, [(1, 2, False), (3, 3, False)])
    assert shown(state) == [([0], [0, 1], False), ([4, 5], [4, 5], False)]


def test_a_moved_block_is_passed_over() -> None:
    state = state_of(5, 5, [(0, 0, False), (2, 4, True)])
    assert shown(state) == [([1, 3, 4], [1, 2, 3], False)]


def test_a_gap_inside_a_moved_stretch_is_a_window_of_its_own() -> None:
    state = state_of(7, 8, [(0, 5, True), (2, 7, True), (3, 0, False), (6, 3, False)])
    assert shown(state) == [([4, 5], [1, 2], False), ([1], [6], True)]


def test_moved_neighbours_with_another_pair_between_them_enclose_no_window() -> None:
    state = state_of(6, 8, [(0, 3, True), (2, 7, True), (4, 5, True), (5, 0, False)])
    assert shown(state) == []


keys = st.lists(st.integers(0, 2), min_size=1, max_size=8)


@given(keys, keys)
def test_equal_ends_are_the_common_start_and_then_the_common_end(old: list[int], new: list[int]) -> None:
    head = 0
    while head < min(len(old), len(new)) and old[head] == new[head]:
        head += 1
    tail = 0
    while tail < min(len(old), len(new)) - head and old[-1 - tail] == new[-1 - tail]:
        tail += 1
    windows = open_windows(State(len(old), len(new)))
    pair_old, pair_new, moved = equal_ends(windows, np.array(old, np.uint64), np.array(new, np.uint64))
    expected = [(k, k) for k in range(head)] + [(len(old) - 1 - k, len(new) - 1 - k) for k in range(tail)]
    assert list(zip(pair_old.tolist(), pair_new.tolist(), strict=True)) == expected
    assert not moved.any()
