"""Programs aligned block by block, as a machinist would pair them."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from verifier.compare.align import Alignment
from verifier.compare.align_similar import best_pairing
from verifier.compare.align_words import SIMILAR, align_words
from verifier.compare.keys import LADDER, Words, block_keys
from verifier.compare.keys_program import program_words
from verifier.source import read_source
from verifier.syntax import parse


def read(text: str) -> Words:
    return program_words(parse(read_source(f"{text.strip()}\n".encode())))


def pairs(old: str, new: str) -> list[tuple[int, int, int]]:
    """(old, new, rung) for all pairs that do not agree in all words."""
    found = align_words(read(old), read(new))
    return [(i, int(found.old_to_new[i]), int(found.rung[i])) for i in np.flatnonzero(found.rung > 0).tolist()]


def free(old: str, new: str) -> tuple[list[int], list[int]]:
    found = align_words(read(old), read(new))
    return np.flatnonzero(found.old_to_new < 0).tolist(), np.flatnonzero(found.new_to_old < 0).tolist()


SEQUENCE = """
N1 T0101
G50 S2500
G96 S200 M3
G0 X52. Z2. M8
G1 Z-30. F0.25
G0 X100. Z100. M9
M1
"""


@pytest.mark.parametrize(
    "edit,rung",
    [
        (("F0.25", "F0.3"), 1),
        (("S200", "S150"), 1),
        (("Z-30.", "Z-30"), 1),
        (("Z-30.", "Z-30.002"), 2),
        (("Z-30.", "Z-31."), 3),
        (("G0 X52.", "G1 X52."), 4),
        (("T0101", "T0103"), 4),
        (("G50 S2500", "S2500"), SIMILAR),
        (("X52. Z2. M8", "X52. Z2."), SIMILAR),
        (("G1 Z-30.", "/G1 Z-30."), SIMILAR),
    ],
)
def test_one_edited_word_keeps_its_block(edit: tuple[str, str], rung: int) -> None:
    changed = SEQUENCE.replace(*edit)
    assert changed != SEQUENCE
    assert [found[2] for found in pairs(SEQUENCE, changed)] == [rung]
    assert free(SEQUENCE, changed) == ([], [])


def test_renumbering_and_respacing_leave_every_block_equal() -> None:
    changed = "\n".join(
        f"N{10 * k}{line.replace(' ', '')}" for k, line in enumerate(SEQUENCE.strip().split("\n")[1:], 1)
    )
    changed = f"N5T101\n{changed}".replace("X52.", "x52.000")
    assert pairs(SEQUENCE, changed) == []
    assert free(SEQUENCE, changed) == ([], [])


def test_a_line_taken_out_is_just_that_line() -> None:
    assert free(SEQUENCE, SEQUENCE.replace("G50 S2500\n", "")) == ([1], [])
    assert pairs(SEQUENCE, SEQUENCE.replace("G50 S2500\n", "")) == []


def test_unlike_blocks_in_one_place_stay_apart() -> None:
    assert free("M1\nG4 P500\nM30", "M1\nX5. Z3.\nM30") == ([1], [1])


def test_among_several_the_block_with_the_nearest_values_is_the_edited_one() -> None:
    old = "M1\nG1 Z-3.5\nM30"
    new = "M1\nG1 Z-0.675\nG1 X2.9\nG1 Z-3.525\nM30"
    assert pairs(old, new) == [(1, 3, 3)]


def test_values_tell_shifted_blocks_apart_where_letters_do_not() -> None:
    old = "M3\nG1 X10. Z1.\nG1 X20. Z2.\nG1 X30. Z3.\nM5"
    new = "M3\nG1 X20. Z2.5\nG1 X30. Z3.5\nG1 X40. Z4.\nM5"
    assert [found[:2] for found in pairs(old, new)] == [(2, 1), (3, 2)]
    assert free(old, new) == ([1], [3])


def test_a_block_alone_that_turns_up_far_away_is_not_a_move() -> None:
    body = [f"G1 X{k}. Z-{k}." for k in range(1, 41)]
    near = [*body[:3], *body[4:8], body[3], *body[8:]]
    far = [*body[:3], *body[4:38], body[3], *body[38:]]
    text = "\n".join
    assert align_words(read(text(body)), read(text(near))).moved.sum() == 1
    found = align_words(read(text(body)), read(text(far)))
    assert not found.moved.any()
    assert free(text(body), text(far)) == ([3], [37])


def test_two_tool_sequences_exchanged_and_edited_are_moved_and_edited() -> None:
    second = (
        SEQUENCE.replace("N1 T0101", "N2 T0202").replace("X52. Z2.", "X30. Z5.").replace("Z-30. F0.25", "Z-12. F0.1")
    )
    edited = second.replace("F0.1", "F0.15").replace("G50 S2500\n", "")
    starts = np.array([0, 7])
    found = align_words(
        read(SEQUENCE + second.strip()),
        read(edited.strip() + SEQUENCE),
        starts,
        np.array([0, 6]),
        section_keys_old=np.array([1, 2], np.uint64),
        section_keys_new=np.array([2, 1], np.uint64),
    )
    assert found.old_to_new.tolist() == [6, 7, 8, 9, 10, 11, 12, 0, -1, 1, 2, 3, 4, 5]
    assert found.rung[11] == 1
    assert int(found.moved.sum()) == 6


def test_stations_renumbered_do_not_drag_their_sequences_apart() -> None:
    """Both keep their place and their cut; only the tool numbers, and so the section keys, are exchanged."""
    first = "T0101\nG0 X52. Z2.\nG1 Z-30. F.2\nX55.\nM1"
    second = "T0202\nG0 X18. Z3.\nG1 Z-9. F.1\nX22.\nM1"
    old, new = (
        f"{first}\n{second}",
        f"{first}\n{second}".replace("T0101", "T9").replace("T0202", "T0101").replace("T9", "T0202"),
    )
    at = np.array([0, 5])
    found = align_words(
        read(old),
        read(new),
        at,
        at,
        section_keys_old=np.array([1, 2], np.uint64),
        section_keys_new=np.array([2, 1], np.uint64),
    )
    assert found.old_to_new.tolist() == list(range(10))
    assert not found.moved.any()


word = st.sampled_from(["G0", "G1", "X1.", "X2.", "X2.004", "Z1.", "F.1", "F.2", "M8", "T1", "#1=2", "/"])
programs = st.lists(st.lists(word, min_size=1, max_size=4).map(" ".join), min_size=1, max_size=25)


def assert_same(left: Alignment, right: Alignment) -> None:
    for name in ("old_to_new", "new_to_old", "rung", "moved"):
        assert np.array_equal(getattr(left, name), getattr(right, name)), name


@given(programs, programs)
@settings(max_examples=150, deadline=None)
def test_pairs_are_true_at_their_rung_and_exchange_mirrors(old: list[str], new: list[str]) -> None:
    left, right = read("\n".join(old)), read("\n".join(new))
    found = align_words(left, right)
    i, j = found.pairs()
    assert np.array_equal(found.new_to_old[j], i)
    assert np.all(np.diff(j[~found.moved[i]]) > 0)
    for number, reading in enumerate(LADDER):
        equal = block_keys(left, reading)[i] == block_keys(right, reading)[j]
        assert equal[found.rung[i] == number].all()
        assert not equal[found.rung[i] > number].any()
    assert_same(align_words(right, left), found.mirrored())


@given(programs)
@settings(max_examples=50, deadline=None)
def test_a_program_aligns_with_itself_block_by_block(lines: list[str]) -> None:
    words = read("\n".join(lines))
    found = align_words(words, words)
    assert found.old_to_new.tolist() == list(range(len(words)))
    assert not found.rung.any() and not found.moved.any()


@given(st.lists(st.lists(st.integers(0, 9), min_size=3, max_size=3), min_size=1, max_size=4))
@settings(max_examples=150)
def test_the_best_pairing_gains_most(gain: list[list[int]]) -> None:
    cells = [(i, j) for i in range(len(gain)) for j in range(3)]
    best = max(
        sum(gain[i][j] for i, j in some)
        for size in range(4)
        for some in combinations(cells, size)
        if all(a < c and b < d for (a, b), (c, d) in combinations(some, 2))
    )
    found = best_pairing(gain)
    assert sum(gain[i][j] for i, j in found) == best
    assert all(gain[i][j] for i, j in found)
    assert all(a < c and b < d for (a, b), (c, d) in combinations(found, 2))
