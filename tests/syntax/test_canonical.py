"""Canonical words: what changes nothing for a control changes nothing here, and what changes something does."""

from __future__ import annotations

import hashlib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from verifier.source import read_source
from verifier.syntax import ALPHABET, Program, block_text, canonical_words, check_code, parse, word_key

_BASE = "%\nO0042 (BUSH)\nN10 G00 X25. Z-.5\n/2 G01 X3 F0.2\n#1=2.*#3\nIF [#1 GT 2] GOTO 10\nX[-#4/2.] ,C1.\nM30\n%\n"


def _program(text: str) -> Program:
    return parse(read_source(text.encode("utf-8")))


def _words(text: str) -> bytes:
    return canonical_words(_program(text))


def test_sha_256_is_the_published_one() -> None:
    # FIPS 180-4, example of one block: the message "abc".
    assert read_source(b"abc").sha256 == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_the_canonical_words_of_a_small_program() -> None:
    assert _words(_BASE).decode() == (
        "O42\nN10 G0 X25. Z-0.5\n/2 G1 X3 F0.2\n#1=2.*#3\nIF[#1GT2]GOTO10\nX[-#4/2.] ,C1.\nM30\n"
    )


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("X25.", "X25.000"),
        ("X25.", "X025."),
        ("X+25.", "x25."),
        ("X-0.", "X0."),
        ("X.5", "X0.50"),
        ("G1", "G01"),
        ("M3", "M03"),
        ("G54.1", "G54.10"),
        ("G1.", "G1"),
        ("GO1  x1.", "go1 X1."),
        ("N10G01X1.", "N10 G01\tX1. "),
        ("G01 X1. (NOTE)", "(OTHER NOTE) G1 X1."),
        ("G01 X1. ; NOTE", "G01 X1. ;"),
        ("G01 X1.\nM30", "G01 X1.\r\n\r\nM30\r\n"),
        ("%\nG01 X1.\n%", "G01 X1."),
        ("#1 = #2 + 3.0", "#1=#2+3."),
        ("IF [#1 EQ 2] THEN #3 = 1.50", "IF[#1EQ2]THEN#3=1.5"),
        ("WHILE [#1 LT 5] DO 1", "while[#1lt5]do1"),
        ("X [ 1 + #2 ]", "X[1+#2]"),
        ("GOTO 10", "GOTO10"),
    ],
)
def test_another_spelling_is_the_same(one: str, other: str) -> None:
    assert _words(one) == _words(other)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("X25.", "X25"),
        ("X25.", "X-25."),
        ("X2.5", "X25."),
        ("X1. Z2.", "Z2. X1."),
        ("N10 G01 X1.", "G01 X1."),
        ("N10 G01", "N11 G01"),
        ("/ G01 X1.", "G01 X1."),
        ("/2 G01 X1.", "/3 G01 X1."),
        ("/2 G01 X1.", "/ G01 X1."),
        ("G01 / X1.", "/ G01 X1."),
        ("G01 X1.\nZ2.", "G01 X1. Z2."),
        ("X1. ,C2.", "X1. C2."),
        ("X#1", "X#2"),
        ("#1=2", "#1=2."),
        ("GO1 X1.", "G01 X1."),
        ("G01 X1. F", "G01 X1."),
        ("(130 G03 X1.", "(130 G03 X2."),
        ("roughing pass", "finishing pass"),
    ],
)
def test_another_word_is_not_the_same(one: str, other: str) -> None:
    assert _words(one) != _words(other)


_VALUES = st.tuples(st.sampled_from("XZUWIKRFQ"), st.integers(-99999, 99999), st.integers(-1, 4))
_BLOCKS = st.lists(st.lists(_VALUES, min_size=1, max_size=4), min_size=1, max_size=5)


def _spelled(letter: str, mantissa: int, decimals: int, spelling: st.DataObject) -> str:
    """One word in one of its many spellings."""
    digits = str(abs(mantissa)).rjust(max(decimals, 0) + 1, "0")
    sign = "-" if mantissa < 0 else spelling.draw(st.sampled_from(["", "+"]))
    zeros = "0" * spelling.draw(st.integers(0, 2))
    blank = " " * spelling.draw(st.integers(0, 2))
    letter = spelling.draw(st.sampled_from([letter, letter.lower()]))
    if decimals < 0:
        return f"{letter}{sign}{zeros}{digits}{blank}"
    cut = len(digits) - decimals
    tail = "0" * spelling.draw(st.integers(0, 2))
    return f"{letter}{sign}{zeros}{digits[:cut]}.{digits[cut:]}{tail}{blank}"


def _written(blocks: list[list[tuple[str, int, int]]], spelling: st.DataObject) -> str:
    lines = []
    for block in blocks:
        lines += [spelling.draw(st.sampled_from(["", " ", "(NOTE)"]))] * spelling.draw(st.integers(0, 1))
        words = "".join(_spelled(*word, spelling) for word in block)
        lines.append(words + spelling.draw(st.sampled_from(["", ";", " (X9.)", "; note"])))
    return "\n".join(lines)


@given(_BLOCKS, st.data())
@settings(max_examples=150, deadline=None)
def test_spacing_case_zeros_and_comments_change_no_canonical_word(
    blocks: list[list[tuple[str, int, int]]], spelling: st.DataObject
) -> None:
    one, other = _program(_written(blocks, spelling)), _program(_written(blocks, spelling))
    assert canonical_words(one) == canonical_words(other)
    assert check_code(one) == check_code(other)


@given(_BLOCKS, st.data())
@settings(max_examples=100, deadline=None)
def test_canonical_words_read_back_are_themselves(
    blocks: list[list[tuple[str, int, int]]], spelling: st.DataObject
) -> None:
    words = canonical_words(_program(_written(blocks, spelling)))
    assert canonical_words(parse(read_source(words))) == words


@given(_BLOCKS, st.data())
@settings(max_examples=100, deadline=None)
def test_a_changed_number_changes_the_check_code(
    blocks: list[list[tuple[str, int, int]]], spelling: st.DataObject
) -> None:
    letter, mantissa, decimals = blocks[0][0]
    changed = [[(letter, mantissa + 1, decimals), *blocks[0][1:]], *blocks[1:]]
    assert check_code(_program(_written(blocks, spelling))) != check_code(_program(_written(changed, spelling)))


def test_the_check_code_is_the_leading_part_of_the_digest_in_base_31() -> None:
    program = _program(_BASE)
    digest = hashlib.sha256(canonical_words(program)).hexdigest()
    share = int(digest, 16) / 2**256  # the digest as a share of all digests; its leading digits in base 31 are the code
    code = check_code(program)
    assert sum((ALPHABET.index(symbol)) / 31 ** (k + 1) for k, symbol in enumerate(code)) == pytest.approx(
        share, abs=31.0**-8
    )
    assert len(ALPHABET) == 31
    assert not set(ALPHABET) & set("0O1IL")


def test_word_key_of_words_without_a_number_is_their_text() -> None:
    (block,) = _program("N5 x[ #1 + 2.0 ] y").blocks
    assert [word_key(word) for word in block.words] == ["N5", "X[#1+2.]", "Y"]


@pytest.mark.parametrize(
    ("line", "shown"),
    [
        ("N10G01X25.F0.2 (NOTE)", "N10 G01 X25. F0.2"),
        ("/2 m98 p 8001", "/2 M98 P8001"),
        ("N5 IF [#1 EQ 2] GOTO 10", "N5 IF[#1EQ2]GOTO10"),
        ("GO1 Z-60", "GO1 Z-60"),
        ("G0X-4.5.Z0.", "G0 X-4.5. Z0."),
    ],
)
def test_block_text_is_the_block_as_written_with_single_blanks(line: str, shown: str) -> None:
    (block,) = _program(line).blocks
    assert block_text(block) == shown
