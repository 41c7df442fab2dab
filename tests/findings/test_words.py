"""What the words of an edit tell: signs, points, exchanged letters, codes; and what notes tell beside their prose."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.findings.changes import program
from verifier.compare import Edit, word_changes
from verifier.findings.notes import changed_notes, heavy
from verifier.findings.words import WordFacts, facts_of
from verifier.machines import generic_lathe


def facts(old: str, new: str) -> WordFacts:
    before, after = (list(program(text + "\n").blocks) for text in (old, new))
    words = word_changes(before[0].words, after[0].words) if before and after else ()
    return facts_of(Edit(0, "changed", (0,), (0,), words), before, after, (generic_lathe(), generic_lathe()))


@pytest.mark.parametrize(
    ("old", "new", "sign", "point"),
    [
        ("X35.", "X-35.", True, False),
        ("X-35.", "X35.", True, False),
        ("X0.", "X-0.", False, False),
        ("X35.", "X35", False, True),
        ("X3.5", "X35.", False, True),
        ("X35.", "X35.000", False, False),
        ("X350.", "X35.", False, False),
        ("X-35.", "X35", False, True),
        ("F.2", "F.02", False, True),
        ("F-1.", "F1.", False, False),
        ("S200", "S20", False, False),
        ("X35.", "X36.", False, False),
    ],
)
def test_signs_and_points(old: str, new: str, sign: bool, point: bool) -> None:
    found = facts(old, new)
    assert (bool(found.signs), bool(found.points)) == (sign, point)


@given(st.integers(1, 99_999), st.integers(0, 4), st.integers(0, 4))
def test_a_point_at_another_place_among_the_same_digits_is_one_and_at_the_same_place_none(
    digits: int, old: int, new: int
) -> None:
    def spelled(decimals: int) -> str:
        text = str(digits).rjust(decimals + 1, "0")
        return f"{text[: len(text) - decimals]}.{text[len(text) - decimals :]}"

    assert bool(facts(f"X{spelled(old)}", f"X{spelled(new)}").points) == (old != new)


def test_letters_of_one_axis_exchanged() -> None:
    (pair,) = facts("G01 Z-30.", "G01 W-30.").exchanged
    assert (pair[0].text, pair[1].text) == ("Z-30.", "W-30.")
    assert facts("G01 Z-30.", "G01 U-30.").exchanged == ()


def test_codes_put_in_and_taken_out_whatever_their_spelling() -> None:
    found = facts("G1 G21 M8", "G01 G20 M08")
    assert (found.put, found.taken) == (("G20",), ("G21",))
    assert found.touches("G20") and not found.touches("G01", "M08")


def notes(old: str, new: str) -> list[tuple[str | None, str | None]]:
    pairs = changed_notes(program(old + "\nG0\n").comments, program(new + "\nG0\n").comments)
    return [(a.text if a else None, b.text if b else None) for a, b in pairs]


@pytest.mark.parametrize(
    ("old", "new", "changed"),
    [
        ("(STICK OUT 38)", "(STICK OUT 42)", 1),
        ("(BORE 26.0)", "(BORE 26.)", 0),
        ("(ROUGHING)", "(ROUGH IT OUT)", 0),
        ("(HARD JAWS)", "(SOFT JAWS)", 1),
        ("(A 1)\n(B 2)\n(C 3)", "(A 1)\n(C 3)", 1),
        ("(USE  CHUCK 1)", "(use chuck 1)", 0),
    ],
)
def test_notes_are_changed_where_numbers_or_setup_words_are(old: str, new: str, changed: int) -> None:
    assert len(notes(old, new)) == changed


def test_a_note_that_names_what_holds_the_work_is_heavy() -> None:
    (jaws, revision) = program("(JAWS 3)\n(REV 3)\nG0\n").comments
    assert heavy(jaws) and not heavy(revision) and not heavy(None)
