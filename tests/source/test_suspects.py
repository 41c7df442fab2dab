"""Look-alike characters are known, and ordinary writing is not suspected."""

from __future__ import annotations

import string

import pytest
from hypothesis import given
from hypothesis import strategies as st

from verifier.source import describe, suspect, suspects


@pytest.mark.parametrize(
    "character",
    [
        "０",
        "Ｘ",
        "٣",
        "४",
        "Х",
        "О",
        "Μ",
        "−",
        "–",
        "\u00a0",
        "\u00ad",
        "\u200b",
        "\u202e",
        "\u2066",
        "\ufeff",
        "\u3000",
        "．",
        "，",
        "\u2028",
        "𝟎",
        "\u212a",
    ],
)
def test_characters_that_look_right_and_are_not(character: str) -> None:
    assert suspect(character)
    assert describe(character).startswith(f"U+{ord(character):04X}")


@pytest.mark.parametrize("character", [*string.printable, *"äöüßéèÄÖÜØø°±µ²§€漢字"])
def test_characters_of_ordinary_notes(character: str) -> None:
    assert suspect(character, in_comment=True) is None


def test_a_dash_is_ordinary_in_a_note_and_none_in_code() -> None:
    assert suspect("–", in_comment=True) is None
    assert suspect("–")


def test_neighbours_are_one_run() -> None:
    assert [(at, run) for at, run, _ in suspects("X４０ Y\u200b1")] == [(1, "４０"), (5, "\u200b")]


@given(st.characters(categories=["Nd"], min_codepoint=0x80))
def test_each_digit_of_another_script_is_suspected(character: str) -> None:
    assert suspect(character)
