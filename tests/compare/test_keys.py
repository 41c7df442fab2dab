"""Which blocks have equal keys at which rung: by word values built by hand, and by programs as they are read."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from verifier.compare.keys import LADDER, Words, block_keys, ladder, words_of
from verifier.compare.keys_program import program_words
from verifier.source import VerifierError, read_source
from verifier.syntax import parse


@dataclass(frozen=True)
class Columns:
    row: np.ndarray
    letter: np.ndarray
    mantissa: np.ndarray
    decimals: np.ndarray
    plain: np.ndarray


Block = list[tuple[str, int, int]]


def columns(blocks: list[Block], plain: list[bool] | None = None) -> Columns:
    words = [word for block in blocks for word in block]
    return Columns(
        np.cumsum([0, *(len(block) for block in blocks)], dtype=np.int64),
        np.array([ord(letter) for letter, _, _ in words], np.uint8),
        np.array([mantissa for _, mantissa, _ in words], np.int64),
        np.array([decimals for _, _, decimals in words], np.int8),
        np.array(plain if plain is not None else [True] * len(blocks), bool),
    )


def read(*lines: str) -> Words:
    return program_words(parse(read_source(("\n".join(lines) + "\n").encode())))


def agree(first: str, second: str) -> list[bool]:
    """Per rung, whether two blocks have equal keys."""
    words = read(first, second)
    assert len(words) == 2
    return [len(set(block_keys(words, reading).tolist())) == 1 for reading in LADDER]


ALL = [True] * 5


@pytest.mark.parametrize(
    "first,second,expected",
    [
        ("G1 X25.0", "G01 X25.", ALL),
        ("X-0.0", "X0.", ALL),
        ("N10 G1 X25.", "N900 G1 X25.", ALL),
        ("G1 X25. Z3.", "Z3. G1 X25.", ALL),
        ("G1X25.(old note)", "g1 x25. (new note)", ALL),
        ("X25.", "X25", [False, True, True, True, True]),
        ("X25.", "X25.0001", [False, False, True, True, True]),
        ("X25.", "X25.5", [False, False, False, True, True]),
        ("G1 Z-5. F0.2", "G1 Z-5. F0.3", [False, True, True, True, True]),
        ("G96 S200 M3", "G96 S150 M3", [False, True, True, True, True]),
        ("G1 Z-5. F0.2", "G1 Z-5.", [False, True, True, False, False]),
        ("G0 X25.", "G1 X25.", [False, False, False, False, True]),
        ("T0101", "T0102", [False, False, False, False, True]),
        ("M8", "M7", [False, False, False, False, True]),
        ("X1.", "Z1.", [False] * 5),
        ("X1.", "X1. X1.", [False] * 5),
        ("X1.", "/X1.", [False] * 5),
        ("/X1.", "/ N5 X1.0", ALL),
        ("/X1.", "N5 /X1.", ALL),
        ("X1. /M8", "/X1. M8", [False, False, False, True, True]),
        ("/G1 X1. F.1", "/G1 X1. F.2", [False, True, True, True, True]),
        ("/2 M8", "/3 M8", [False, False, False, True, True]),
        ("#100=25.0", "#100=25.", ALL),
        ("#100=25.", "#100=26.", [False, False, False, True, True]),
        ("G1 X[#1+2.]", "G1 X[#1+2.00]", ALL),
        ("G1 X[#1+2.]", "G1 X[#1+3.]", [False, False, False, True, True]),
        ("IF[#1GT5]GOTO90", "WHILE[#1GT5]DO1", [False] * 5),
    ],
)
def test_two_blocks_agree_at_exactly_these_rungs(first: str, second: str, expected: list[bool]) -> None:
    assert agree(first, second) == expected
    assert agree(second, first) == expected


words = st.tuples(st.sampled_from("GXZFMN"), st.integers(-30, 30), st.integers(-1, 3))


def meaning(block: Block) -> Counter[tuple[str, Fraction, bool]]:
    return Counter(
        (letter, Fraction(mantissa, 10 ** max(decimals, 0)), decimals >= 0 and letter not in "GM")
        for letter, mantissa, decimals in block
        if letter != "N"
    )


@given(st.lists(st.lists(words, max_size=4), min_size=2, max_size=8))
@settings(max_examples=300)
def test_keys_at_rung_0_are_equal_just_where_the_words_are(blocks: list[Block]) -> None:
    keys = block_keys(words_of(columns(blocks), {}), LADDER[0]).tolist()
    for i, first in enumerate(blocks):
        for j, second in enumerate(blocks):
            assert (keys[i] == keys[j]) == (meaning(first) == meaning(second))


@given(st.lists(st.lists(words, max_size=4), min_size=2, max_size=8))
@settings(max_examples=200)
def test_what_agrees_at_one_rung_agrees_at_every_looser_one_with_the_same_words(blocks: list[Block]) -> None:
    """Rungs 0, 1, 2 lie in each other, and so do 3 and 4; F and S come back at 3, so 2 and 3 need not."""
    found = words_of(columns(blocks), {})
    keys = [block_keys(found, reading).tolist() for reading in LADDER]
    for tight, loose in ((0, 1), (1, 2), (0, 3), (3, 4)):
        for i in range(len(blocks)):
            for j in range(len(blocks)):
                assert keys[tight][i] != keys[tight][j] or keys[loose][i] == keys[loose][j]


@given(st.integers(-(10**12), 10**12), st.integers(0, 9))
def test_coordinates_round_half_away_from_zero(mantissa: int, decimals: int) -> None:
    rounded = Decimal(mantissa).scaleb(-decimals).quantize(Decimal("0.01"), ROUND_HALF_UP)
    blocks: list[Block] = [[("X", mantissa, decimals)], [("X", int(rounded.scaleb(2)), 2)]]
    keys = block_keys(words_of(columns(blocks), {}), LADDER[2])
    assert keys[0] == keys[1]


@pytest.mark.parametrize("decimals", [0, 1, 7, 15, 16, 17, 18])
def test_a_value_is_the_same_however_many_zeros_follow_it(decimals: int) -> None:
    blocks: list[Block] = [[("X", 7 * 10**decimals, decimals)], [("X", 7, 0)], [("X", 0, decimals)], [("X", 0, 0)]]
    keys = block_keys(words_of(columns(blocks), {}), LADDER[0]).tolist()
    assert keys[0] == keys[1] != keys[2] == keys[3]


def test_a_text_takes_part_in_the_key_of_its_block_only() -> None:
    blocks: list[Block] = [[("X", 1, 0)], [], [("X", 1, 0)], []]
    found = words_of(columns(blocks, [True, False, True, False]), {1: "#1=2.", 3: "#1=3."})
    strict, shape = block_keys(found, LADDER[0]).tolist(), block_keys(found, LADDER[3]).tolist()
    assert strict[0] == strict[2] and len(set(strict)) == 3
    assert shape[1] == shape[3] and shape[0] == shape[2] != shape[1]


def test_a_block_that_is_not_plain_needs_a_text() -> None:
    with pytest.raises(VerifierError, match="block 1"):
        words_of(columns([[], []], [True, False]), {})


def test_an_unread_block_equals_only_its_own_text_without_its_number() -> None:
    words = read("N10 G1 X", "N20 G1 X", "G1 X?", "G1 X1.")
    keys = block_keys(words, LADDER[0]).tolist()
    assert keys[0] == keys[1] and len(set(keys)) == 3


def test_a_number_too_long_for_the_columns_keeps_its_exact_value() -> None:
    assert agree("X1.00000000000000000000", "X1.") == ALL
    assert agree("X1.00000000000000000001", "X1.") == [False, False, False, False, False]
    assert agree("X0.123456789012", "X.123456789012000") == ALL


def test_a_program_without_blocks_has_no_keys() -> None:
    assert len(read("(only a note)")) == 0
    assert [len(rung.old) for rung in ladder(read("(one)"), read("(two)"))] == [0] * len(LADDER)
