"""A place in a program is shown exactly, and nothing in the program can act on the terminal."""

from __future__ import annotations

import unicodedata

from hypothesis import given
from hypothesis import strategies as st

from verifier.source import Problem, Span, excerpt, excerpt_problem, read_source, visible

_NOTE = b"A LONG NOTE SO THAT CONTROL CHARACTERS STAY FEW " * 50


def test_an_excerpt_shows_place_line_carets_and_hint() -> None:
    source = read_source(b"G21\nGO1 Z-60\n", "O0007.nc")
    assert excerpt(source, Span(2, 1, 3), "a letter O", "put a zero") == (
        "O0007.nc:2:1: a letter O\n  GO1 Z-60\n  ^^^\n  hint: put a zero"
    )


def test_the_excerpt_of_a_problem_has_its_code_and_what_was_expected() -> None:
    source = read_source(b"G21\nGO1 Z-60\n", "O0007.nc")
    problem = Problem("letter-o-for-zero", Span(2, 1, 3), "a letter O", "GO1", "the digit 0", "replace it")
    assert excerpt_problem(source, problem).splitlines()[0] == "O0007.nc:2:1: a letter O [letter-o-for-zero]"
    assert excerpt_problem(source, problem).splitlines()[-1] == "  hint: expected the digit 0; replace it"


def test_carets_stand_below_the_place_whatever_stands_before_it() -> None:
    for before in ("G01 ", "\t", "(\x1b[31m) ", "(\u202e) ", "(漢字) ", "(é) ", "(e\u0301) "):
        text = f"{before}X1O."
        _, line, carets = excerpt(read_source(text.encode()), Span(1, len(before) + 1, 4)).splitlines()
        columns = [2 if unicodedata.east_asian_width(c) in "WF" else 1 for c in line]
        at = line.index("X1O.")
        assert carets == " " * sum(columns[:at]) + "^^^^", before


def test_a_long_line_is_shown_around_the_place() -> None:
    source = read_source(b"X1" * 5000 + b"GO1" + b"Z2" * 5000)
    _, line, carets = excerpt(source, Span(1, 10_001, 3)).splitlines()
    assert len(line) < 120
    assert line[carets.index("^") : carets.rindex("^") + 1] == "GO1"


def test_a_place_behind_the_end_is_only_named() -> None:
    assert excerpt(read_source(b"G00", "a"), Span(7, 3), "gone") == "a:7:3: gone"


def test_the_place_behind_the_last_character_has_a_caret() -> None:
    assert excerpt(read_source(b"X[1+", "a"), Span(1, 5)).splitlines()[-1] == "      ^"


@given(st.text(), st.integers(1, 40), st.integers(0, 10))
def test_no_character_that_a_terminal_obeys_or_hides_is_ever_shown(text: str, column: int, length: int) -> None:
    text = text.encode("utf-8", "replace").decode("utf-8")
    source = read_source(b"(" + text.replace("\x00", "").encode() + b")\n(" + _NOTE + b")", text)
    shown = excerpt(source, Span(1, column, length), text, text)
    assert not [c for c in shown if c != "\n" and unicodedata.category(c) in ("Cc", "Cf", "Cs", "Zl", "Zp")]
    assert shown.count("\n") <= 3


def test_visible_writes_hidden_characters_out() -> None:
    assert visible("a\x1b[1m\tb\u202ec\x7f\xa0\U000e0041") == "a\\x1b[1m b\\u202ec\\x7f\\xa0\\U000e0041"
