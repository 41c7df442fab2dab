"""The laws of the whole ladder: what an alignment is, whatever the two sequences."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from verifier.compare.align import CELLS_PER_BLOCK, LEAST_CELLS, Alignment, align
from verifier.compare.align_myers import Work
from verifier.compare.align_rung import Rung
from verifier.source import VerifierError


def keys(values: Sequence[int] | np.ndarray) -> np.ndarray:
    return np.array(values, np.uint64)


def one_rung(old: Sequence[int] | np.ndarray, new: Sequence[int] | np.ndarray, least: int = 1) -> list[Rung]:
    return [Rung(keys(old), keys(new), "only", least)]


def three_rungs(old: Sequence[int], new: Sequence[int]) -> list[Rung]:
    """Values, values by tens, values by hundreds: each rung looser than the one before."""
    return [
        Rung(keys([v // unit for v in old]), keys([v // unit for v in new]), str(unit), least)
        for unit, least in ((1, 1), (10, 4), (100, 0))
    ]


def longest_common(old: Sequence[int], new: Sequence[int]) -> int:
    """The classical table, row by row; the oracle."""
    row = [0] * (len(new) + 1)
    for left in old:
        before, row = row, [0]
        for at, right in enumerate(new):
            row.append(before[at] + 1 if left == right else max(row[at], before[at + 1]))
    return row[-1]


def edited(rng: np.random.Generator, values: np.ndarray, edits: int, names: int) -> np.ndarray:
    result = values.tolist()
    for _ in range(edits):
        at = int(rng.integers(0, len(result) + 1))
        kind = int(rng.integers(0, 3))
        if kind == 0:
            result[at:at] = rng.integers(0, names, int(rng.integers(1, 6))).tolist()
        elif kind == 1:
            del result[at : at + int(rng.integers(1, 6))]
        elif at < len(result):
            result[at] = int(rng.integers(0, names))
    return np.array(result, np.int64)


def check_laws(found: Alignment, rungs: Sequence[Rung]) -> None:
    old, new = found.pairs()
    assert np.array_equal(found.new_to_old[new], old)
    assert int((found.new_to_old >= 0).sum()) == len(old)
    assert np.array_equal(found.rung >= 0, found.old_to_new >= 0)
    assert not found.moved[found.old_to_new < 0].any()
    assert np.all(np.diff(new[~found.moved[old]]) > 0)
    for number, rung in enumerate(rungs):
        here = found.rung[old] == number
        later = found.rung[old] > number
        assert np.array_equal(rung.old[old[here]], rung.new[new[here]])
        assert np.all(rung.old[old[later]] != rung.new[new[later]])


def same(left: Alignment, right: Alignment) -> bool:
    return (
        np.array_equal(left.old_to_new, right.old_to_new)
        and np.array_equal(left.new_to_old, right.new_to_old)
        and np.array_equal(left.rung, right.rung)
        and np.array_equal(left.moved, right.moved)
    )


blocks = st.lists(st.integers(0, 400), max_size=60) | st.lists(st.integers(0, 3), max_size=60)


@st.composite
def related(draw: st.DrawFn) -> tuple[list[int], list[int]]:
    """A sequence and a revision of it: pieces kept, dropped, repeated, reordered, new ones between."""
    old = draw(blocks)
    new: list[int] = []
    for _ in range(draw(st.integers(0, 5))):
        start = draw(st.integers(0, len(old)))
        new += old[start : draw(st.integers(start, len(old)))]
        new += draw(st.lists(st.integers(0, 400), max_size=3))
    return old, new


@given(related())
@settings(max_examples=300, deadline=None)
def test_every_alignment_keeps_the_laws(pair: tuple[list[int], list[int]]) -> None:
    rungs = three_rungs(*pair)
    check_laws(align(rungs), rungs)


@given(related())
@settings(max_examples=200, deadline=None)
def test_exchanging_the_sides_mirrors_the_alignment(pair: tuple[list[int], list[int]]) -> None:
    old, new = pair
    assert same(align(three_rungs(new, old)), align(three_rungs(old, new)).mirrored())


@given(related(), st.data())
@settings(max_examples=200, deadline=None)
def test_sections_keep_the_laws_and_the_mirror(pair: tuple[list[int], list[int]], data: st.DataObject) -> None:
    old, new = pair

    def some(values: list[int]) -> tuple[np.ndarray, np.ndarray]:
        starts = sorted(data.draw(st.sets(st.integers(0, len(values) - 1), max_size=5))) if values else []
        return np.array(starts, np.int64), keys([data.draw(st.integers(0, 4)) for _ in starts])

    (old_at, old_keys), (new_at, new_keys) = some(old), some(new)
    rungs = three_rungs(old, new)
    there = align(rungs, old_at, new_at, section_keys_old=old_keys, section_keys_new=new_keys)
    back = align(three_rungs(new, old), new_at, old_at, section_keys_old=new_keys, section_keys_new=old_keys)
    check_laws(there, rungs)
    assert same(back, there.mirrored())


@given(blocks)
@settings(deadline=None)
def test_identity_aligns_every_block_with_itself_at_rung_0(values: list[int]) -> None:
    found = align(three_rungs(values, values))
    assert found.old_to_new.tolist() == list(range(len(values)))
    assert not found.rung.any() and not found.moved.any()


def test_matches_on_the_main_line_come_within_two_percent_of_the_longest() -> None:
    rng = np.random.default_rng(7)
    matched = longest = 0
    for _ in range(150):
        names = int(rng.choice((2, 5, 30, 1000)))
        old = rng.integers(0, names, int(rng.integers(1, 90)))
        new = edited(rng, old, int(rng.integers(0, 12)), names)
        found = align(one_rung(old, new, 0))
        most = longest_common(old.tolist(), new.tolist())
        assert len(found.pairs()[0]) <= most
        matched, longest = matched + len(found.pairs()[0]), longest + most
    assert matched >= 0.98 * longest


@pytest.mark.parametrize("names", [3, 8, 200])
def test_work_on_a_long_repetitive_program_is_linear(names: int) -> None:
    rng = np.random.default_rng(names)
    per_block = []
    for height in (5_000, 20_000):
        old = np.tile(rng.integers(0, names, 50), height // 50)
        new = edited(rng, old, height // 100, names)
        rungs = one_rung(old, new)
        work = Work(LEAST_CELLS + CELLS_PER_BLOCK * (len(old) + len(new)))
        found = align(rungs, work=work)
        check_laws(found, rungs)
        assert len(found.pairs()[0]) > 0.93 * height  # 1 % edits of up to 5 blocks each
        per_block.append(work.cells / height)
    assert per_block[1] < 3 * max(per_block[0], 20)
    assert per_block[1] < 200


def test_work_on_two_long_unrelated_repetitive_programs_is_bounded() -> None:
    rng = np.random.default_rng(3)
    old, new = rng.integers(0, 6, 20_000), rng.integers(0, 6, 21_000)
    work = Work(LEAST_CELLS + CELLS_PER_BLOCK * 41_000)
    rungs = [Rung(keys(old), keys(new), str(n), 1) for n in range(4)]
    check_laws(align(rungs, work=work), rungs)
    assert work.cells < 4 * (LEAST_CELLS + CELLS_PER_BLOCK * 41_000) + 200 * 41_000


def test_a_swapped_pair_of_sections_is_a_move_without_loss() -> None:
    first = [1, 2, 3, 50, 51, 52, 53, 54, 9, 9]
    second = [1, 2, 4, 60, 61, 62, 63, 64, 9, 9]
    old, new = [0, *first, *second, 99], [0, *second, *first, 99]
    starts = np.array([1, 11], np.int64)
    for found in (align(one_rung(old, new)), align(one_rung(old, new), starts, starts)):
        assert (found.old_to_new >= 0).all() and (found.new_to_old >= 0).all()
        assert int(found.moved.sum()) == 10
        assert found.runs().tolist() == [[0, 0, 1], [1, 11, 10], [11, 1, 10], [21, 21, 1]]


def test_a_moved_section_that_was_edited_too_is_aligned_inside() -> None:
    first, second = list(range(1000, 1400, 10)), list(range(2000, 2600, 10))
    changed = [*first[:20], first[20] + 3, *first[21:30], 7, *first[30:]]
    found = align(three_rungs([*first, *second], [*second, *changed]))
    assert (found.old_to_new >= 0).all()
    assert np.flatnonzero(found.new_to_old < 0).tolist() == [len(second) + 30]
    assert found.old_to_new[20] == len(second) + 20 and found.rung[20] == 1 and found.moved[20]
    assert found.moved[:40].all() and not found.moved[40:].any()


def test_a_section_key_matches_an_edited_section_that_moved() -> None:
    """Repeating blocks alone can't tell which of two sections they belong to; the keys of the sections can."""
    first, second = [1, 2, 1, 2, 3, 3, 1, 2], [1, 2, 2, 2, 3, 1, 1, 1]
    new = [*second, *first[:-1], 5, 2]
    at = np.array([0, 8], np.int64)
    found = align(
        one_rung([*first, *second], new), at, at, section_keys_old=keys([71, 72]), section_keys_new=keys([72, 71])
    )
    assert found.old_to_new[8:].tolist() == list(range(8))
    assert found.old_to_new[:8].tolist() == [8, 9, 10, 11, 12, 13, 14, 16]
    assert np.flatnonzero(found.new_to_old < 0).tolist() == [15]


def test_the_heavier_of_two_exchanged_sections_stands_still() -> None:
    short, long, third = [1, 2, 3], [11, 12, 13, 14, 15, 16, 17], [21, 22, 23]
    found = align(one_rung([*long, *short, *third], [*short, *third, *long]), np.array([0, 7, 10]), np.array([0, 3, 6]))
    assert found.moved.tolist() == [False] * 7 + [True] * 6


def test_a_pair_found_late_still_gets_its_strictest_rung() -> None:
    """Alone, 223 is too short a run for a move; among blocks that are alike at the second rung it moves along."""
    main = list(range(5000, 6000, 100))
    ladder = three_rungs([110, 223, 330, 440, *main], [*main, 111, 223, 331, 441])
    rungs = [replace(rung, least_move_run=least) for rung, least in zip(ladder, (3, 4, 0), strict=True)]
    found = align(rungs)
    assert found.old_to_new[:4].tolist() == [10, 11, 12, 13]
    assert found.rung[:4].tolist() == [1, 0, 1, 1]
    assert found.moved[:4].all()


def test_a_moved_stretch_grows_over_an_edited_block_at_its_edge() -> None:
    main = list(range(5000, 6000, 100))
    found = align(three_rungs([110, 220, 330, 440, 552, *main], [*main, 110, 220, 330, 440, 557]))
    assert found.old_to_new[:5].tolist() == [10, 11, 12, 13, 14]
    assert found.rung[:5].tolist() == [0, 0, 0, 0, 1]
    assert found.moved[:5].all()


def test_keys_that_repeat_only_elsewhere_are_anchors_without_a_search() -> None:
    """The same blocks in every part of the program, once each: inside a part they need no search."""
    part = list(range(50))
    old = [key for k in range(20) for key in (1000 + k, *part)]
    new = [key for k in range(20) for key in (1000 + k, *(p for p in part if (p * 7 + k) % 11))]
    work = Work(LEAST_CELLS)
    found = align(one_rung(old, new), work=work)
    assert len(found.pairs()[0]) == len(new)
    assert work.cells == 0


def test_a_short_run_of_unique_blocks_moves_only_where_the_rung_allows() -> None:
    old, new = [1, 2, 3, 4, 5, 6, 7], [3, 4, 5, 6, 7, 1, 2]
    assert align(one_rung(old, new, 1)).moved.sum() == 2
    assert align(one_rung(old, new, 3)).moved.sum() == 0
    assert align(one_rung(old, new, 0)).old_to_new.tolist() == [-1, -1, 0, 1, 2, 3, 4]


def test_a_block_edited_in_place_pairs_at_the_looser_rung() -> None:
    found = align(three_rungs([110, 220, 330, 440], [110, 225, 330, 990]))
    assert found.old_to_new.tolist() == [0, 1, 2, -1]
    assert found.rung.tolist() == [0, 1, 0, -1]


def test_runs_part_where_rung_or_move_changes() -> None:
    found = align(three_rungs([110, 220, 330, 440], [110, 225, 330, 990]))
    assert found.runs().tolist() == [[0, 0, 1], [1, 1, 1], [2, 2, 1]]
    assert align(one_rung([], [])).runs().shape == (0, 3)


@pytest.mark.parametrize(
    "old,new",
    [([], []), ([], [1, 2]), ([1, 2], []), ([1], [2])],
)
def test_nothing_to_match_leaves_all_free(old: list[int], new: list[int]) -> None:
    found = align(one_rung(old, new))
    assert found.old_to_new.tolist() == [-1] * len(old)
    assert found.new_to_old.tolist() == [-1] * len(new)


def test_a_full_shuffle_matches_every_block() -> None:
    order = np.random.default_rng(5).permutation(3000)
    rungs = one_rung(np.arange(3000), order)
    found = align(rungs)
    check_laws(found, rungs)
    assert (found.old_to_new >= 0).all()


def test_arrays_that_do_not_fit_are_refused() -> None:
    with pytest.raises(VerifierError, match="at least one rung"):
        align([])
    with pytest.raises(VerifierError, match="same heights"):
        align([*one_rung([1], [2]), *one_rung([1, 2], [1])])
    with pytest.raises(VerifierError, match="64-bit"):
        align([Rung(np.zeros(1, np.int32), keys([1]), "x", 1)])
    with pytest.raises(VerifierError, match="rise strictly"):
        align(one_rung([1, 2], [1, 2]), np.array([1, 1]), np.array([0]))
    with pytest.raises(VerifierError, match="section keys"):
        align(one_rung([1, 2], [1, 2]), np.array([0]), np.array([0]), section_keys_old=keys([]))
