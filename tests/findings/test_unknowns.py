"""Places that only the machine knows are told by what they count from and by the block that made them so; never as "unknown" alone."""

from __future__ import annotations

import pytest

from tests.findings.changes import findings
from verifier.findings.examples import turning
from verifier.findings.unknowns import unknown_place

_MM = 100_000_000


@pytest.mark.parametrize(
    ("base", "ticks", "axis", "words"),
    [
        ("X at reference", 0, "x", "at the reference point"),
        ("Z at reference P2", 0, "z", "at the reference point P2"),
        ("Z at reference", 5 * _MM, "z", "5 mm from the reference point"),
        ("X before the program", 0, "x", "where it stood before the program"),
        ("X in machine coordinates", 10 * _MM, "x", "20 mm in machine coordinates"),
        ("X in machine coordinates", 0, "x", "0 in machine coordinates"),
        ("X T4/4>T8/8", 25 * _MM, "x", "50 mm counted with another tool offset (tool 4 offset 4, now tool 8 offset 8)"),
        ("Z TNone/None>T1/None", 0, "z", "0 counted with another tool offset (no tool before, now tool 1)"),
        ("Z G54>G55", 2 * _MM, "z", "2 mm counted from another work offset (G54, now G55)"),
        ("X at reference|X T1/1>T2/2", 0, "x", "at the reference point counted with another tool offset (tool 1 offset 1, now tool 2 offset 2)"),
        ("G110 X1.", 2 * _MM, "z", "2 mm counted from an unknown place behind G110 X1."),
        ("G1 A|...|G2 B|G3 C", 0, "z", "0 counted from an unknown place behind G1 A, and 2 more such steps"),
    ],
)  # fmt: skip
def test_a_base_in_words(base: str, ticks: int, axis: str, words: str) -> None:
    assert unknown_place(base, ticks, axis, "mm") == words


def test_inches_are_told_as_inches() -> None:
    assert unknown_place("Z at reference", 2_540_000_000, "z", "inch") == "1 in from the reference point"


@pytest.mark.parametrize(
    ("old", "new"),
    [("G28 U0.\nG28 W0.", "G30 P2 U0.\nG30 P2 W0."), ("G110 P1 X1.\nG01 W-5. F0.2", "G110 P2 X1.\nG01 W-5. F0.2")],
)
def test_no_finding_says_that_one_unknown_became_another(old: str, new: str) -> None:
    titles = [found.title for found in findings(turning(old), turning(new))]
    assert titles and not [title for title in titles if "unknown to" in title or "to unknown" in title], titles
