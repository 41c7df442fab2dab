"""Wording changes: text differences that leave behaviour as it was, each with its kind and its places."""

from __future__ import annotations

import pytest

from tests.properties.reviewing import review, told
from tests.report.test_cards import FIRST, program
from verifier.report import to_html, to_text

OLD = program(FIRST)


@pytest.mark.parametrize(
    ("old", "new", "kind"),
    [
        (b"\nZ-30.", b"\nZ-30.000", "spelling"),
        (b"G01 X50.", b"g1x50.", "spelling"),
        (b"\nZ-30.", b"\nN77 Z-30.", "block number"),
        (b"\nZ-30.", b"\nZ-30. (EDGE)", "note"),
        (b"G01 X50. F0.2", b"G01  X50.  F0.2 ", "layout"),
        (b"(WORK)", b"(WORK HERE)", "note"),
        (b"\n", b"\r\n", "line ends"),
        (b"\nZ-30.", b"\nG01 Z-30.", "no effect"),
    ],
)
def test_every_kind_is_named(old: bytes, new: bytes, kind: str) -> None:
    assert old in OLD
    report = review(OLD, OLD.replace(old, new))
    assert report.verdict == "same behaviour"
    assert told(report) == []
    assert {entry.kind for entry in report.wording} == {kind}


def test_a_place_names_the_block_on_both_sides() -> None:
    report = review(OLD, OLD.replace(b"\nZ-30.", b"\n\nZ-30.0"))
    (entry,) = [entry for entry in report.wording if entry.kind == "spelling"]
    assert entry.old is not None
    assert entry.new is not None
    assert (entry.old.line, entry.new.line) == (11, 12)
    assert entry.old.block == entry.new.block


def test_a_block_without_effect_that_came_or_went_has_one_place() -> None:
    report = review(OLD, OLD.replace(b"\nZ-30.", b"\nG40\nZ-30."))
    (entry,) = report.wording
    assert entry.kind == "no effect"
    assert entry.old is None
    assert entry.new is not None
    (back,) = review(OLD.replace(b"\nZ-30.", b"\nG40\nZ-30."), OLD).wording
    assert back.old is not None
    assert back.new is None


def test_words_that_change_nothing_are_shown_as_they_were_and_are() -> None:
    """A finishing cycle's feed is never used where the contour has its own: what a lead is told changes nothing, he can read himself."""
    cut = "G71 U2. R1.\nG71 P10 Q20 U0.5 W0.1 F0.3\nN10 G00 X40.\nG01 Z-30. F0.1\nN20 X62.\nG70 P10 Q20 F0.05"
    report = review(program(cut), program(cut.replace("F0.05", "F0.5")))
    (entry,) = report.wording
    assert (entry.before, entry.after) == ("G70 P10 Q20 F0.05", "G70 P10 Q20 F0.5")
    assert "  line 15: G70 P10 Q20 F0.05  is now  G70 P10 Q20 F0.5\n" in to_text(report)
    assert "<li>line 15: <code>G70 P10 Q20 F0.05</code> is now <code>G70 P10 Q20 F0.5</code></li>" in to_html(report)


def test_a_note_that_has_a_finding_of_its_own_is_no_wording() -> None:
    old = b"O1 (A)\n(TURN 50. DIA)\n(ROUGH)\nG21 G97 S500 M03\nT0101\nG00 X50.\nM30\n"
    number, prose = old.replace(b"50. DIA", b"49. DIA"), old.replace(b"ROUGH", b"ROUGH IT")
    both = number.replace(b"ROUGH", b"ROUGH IT")
    assert [[entry.kind for entry in review(old, new).wording] for new in (number, prose, both)] == [
        [],
        ["note"],
        ["note"],
    ]
