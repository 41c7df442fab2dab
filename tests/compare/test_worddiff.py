"""Word changes of matched blocks: what is told, and the laws that nothing is lost and exchange mirrors."""

from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from verifier.compare.worddiff import WordChange, same_value, word_changes
from verifier.source import read_source
from verifier.syntax import Word, parse


def words(text: str) -> tuple[Word, ...]:
    return tuple(parse(read_source(f"{text}\n".encode())).blocks[0].words)


def told(old: str, new: str) -> list[tuple[str, str, str]]:
    return [
        (change.kind, change.old.text if change.old else "", change.new.text if change.new else "")
        for change in word_changes(words(old), words(new))
    ]


@pytest.mark.parametrize(
    "old,new,expected",
    [
        ("G1 X25. Z-3.", "G1 X25. Z-3.", []),
        ("G1 X25. Z-3.", "G1X25.Z-3.", []),
        ("G1 X25.", "G1 X26.", [("changed", "X25.", "X26.")]),
        ("G1 X25.", "G1 X25", [("changed", "X25.", "X25")]),
        ("G0 X25.0", "G00 X25.", [("respelled", "G0", "G00"), ("respelled", "X25.0", "X25.")]),
        ("T0101", "T101", [("respelled", "T0101", "T101")]),
        ("G0 X25. M8", "G0 X25.", [("removed", "M8", "")]),
        ("S2500", "G50 S2500", [("added", "", "G50")]),
        ("G90 G1 X1.", "G1 G91 X1.", [("changed", "G90", "G91"), ("moved", "G90", "G91")]),
        ("G0 G90 X1.", "G90 G1 X1.", [("changed", "G0", "G1"), ("moved", "G0", "G1")]),
        ("M3 M8", "M8 M4", [("changed", "M3", "M4"), ("moved", "M3", "M4")]),
        ("G0 G40 G99", "G40", [("removed", "G0", ""), ("removed", "G99", "")]),
        ("X1. X2.", "X2.", [("removed", "X1.", "")]),
        ("X[#1+2.]", "X[#1+2.0]", [("respelled", "X[#1+2.]", "X[#1+2.0]")]),
        ("X[#1+2.]", "X[#1-2.]", [("changed", "X[#1+2.]", "X[#1-2.]")]),
        ("X#1", "X5.", [("changed", "X#1", "X5.")]),
        ("N10 X1.", "N20 X1.", [("changed", "N10", "N20")]),
        ("", "", []),
    ],
)
def test_these_edits_are_told_like_this(old: str, new: str, expected: list[tuple[str, str, str]]) -> None:
    def sorted_by_place(changes: list[tuple[str, str, str]]) -> list[tuple[str, str, str]]:
        return sorted(changes)

    found = told(old, new) if old or new else []
    assert sorted_by_place(found) == sorted_by_place(expected)


def test_words_in_another_order_are_moved_and_nothing_else() -> None:
    changes = word_changes(words("G1 X1. Z2. F.3"), words("G1 F.3 X1. Z2."))
    assert [change.kind for change in changes] == ["moved"]
    assert changes[0].letter == "F"


def test_equal_value_needs_letter_value_and_point() -> None:
    (a,), (b,), (c,), (d,) = words("X1.0"), words("X1."), words("X1"), words("Z1.")
    assert same_value(a, b)
    assert not same_value(b, c)
    assert not same_value(b, d)


word_texts = st.sampled_from(
    [
        "G0",
        "G00",
        "G1",
        "G90",
        "M3",
        "M03",
        "M8",
        "X1.",
        "X1.0",
        "X1",
        "X2.",
        "Z1.",
        "Z#1",
        "Z[#1+1]",
        "F.2",
        "F0.2",
        "T1",
    ]
)
lines = st.lists(word_texts, min_size=1, max_size=7).map(" ".join)


def texts(words_of_block: tuple[Word, ...]) -> Counter[str]:
    return Counter(word.text for word in words_of_block)


@given(lines, lines)
@settings(max_examples=300, deadline=None)
def test_applying_the_changes_to_the_old_words_gives_the_new_ones(old: str, new: str) -> None:
    before, after = words(old), words(new)
    result = texts(before)
    for change in word_changes(before, after):
        if change.kind != "moved":
            result[change.old.text if change.old else ""] -= 1
            result[change.new.text if change.new else ""] += 1
    result.pop("", None)
    assert +result == texts(after) and all(count >= 0 for count in result.values())


@given(lines, lines)
@settings(max_examples=300, deadline=None)
def test_without_moved_words_the_kept_ones_stand_in_one_order(old: str, new: str) -> None:
    """Putting every change in its place reproduces the new block, if none is called moved."""
    before, after = words(old), words(new)
    changes = word_changes(before, after)
    if any(change.kind == "moved" for change in changes):
        return
    gone = {id(change.old) for change in changes if change.kind == "removed"}
    come = {id(change.new) for change in changes if change.kind == "added"}
    becomes = {id(change.old): change.new for change in changes if change.old and change.new}
    kept = [becomes.get(id(word)) or word for word in before if id(word) not in gone]
    assert [word.text for word in kept] == [word.text for word in after if id(word) not in come]


@given(lines, lines)
@settings(max_examples=300, deadline=None)
def test_exchanging_the_blocks_mirrors_the_changes(old: str, new: str) -> None:
    there, back = word_changes(words(old), words(new)), word_changes(words(new), words(old))
    assert tuple(change.mirrored() for change in back) == there


@given(lines)
@settings(deadline=None)
def test_a_block_has_no_changes_against_itself(line: str) -> None:
    assert word_changes(words(line), words(line)) == ()


@given(lines, lines)
@settings(max_examples=200, deadline=None)
def test_kinds_tell_the_truth(old: str, new: str) -> None:
    for change in word_changes(words(old), words(new)):
        check_kind(change)


def check_kind(change: WordChange) -> None:
    for word in (change.old, change.new):
        assert word is None or word.letter == change.letter
    if change.kind == "added":
        assert change.old is None and change.new is not None
    elif change.kind == "removed":
        assert change.new is None and change.old is not None
    else:
        assert change.old is not None and change.new is not None
        if change.kind == "changed":
            assert not same_value(change.old, change.new)
        if change.kind == "respelled":
            assert same_value(change.old, change.new) and change.old.text != change.new.text
