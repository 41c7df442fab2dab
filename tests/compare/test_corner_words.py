"""A corner word and its moves written out are the same behaviour; an edit of either block behind a corner is its cause."""

from __future__ import annotations

from tests.findings.changes import compared

HEAD = "O1\nG21 G99 G40 G54\nG97 S500 M03\nT0101\nG00 X20. Z2. M08\nG01 Z0. F.2\n"
TAIL = "G00 X100. Z50.\nM30\n"


def test_a_corner_word_is_its_moves_written_out() -> None:
    short = HEAD + "Z-20. ,R3.\nX40. ,C1.\nZ-30.\n" + TAIL
    long = HEAD + "Z-17.\nG02 X26. Z-20. R3.\nG01 X38.\nX40. Z-21.\nZ-30.\n" + TAIL
    assert compared(short, long).verdict == "same behaviour"


def test_the_next_block_is_a_cause_of_the_corner_before_it() -> None:
    old = HEAD + "Z-20. ,R3.\nX40. Z-25.\n" + TAIL
    result = compared(old, old.replace("X40. Z-25.", "X40. Z-26."))
    assert result.verdict == "changed behaviour"
    (edit,) = (e.index for e in result.edits.edits)
    assert {effect.field for effect in result.effects} >= {"x", "z"}
    assert all(effect.causes == (edit,) for effect in result.effects)


def test_a_corner_that_lost_its_next_move_is_never_the_same() -> None:
    old = HEAD + "Z-20. ,C1.\nX40.\n" + TAIL
    assert compared(old, old.replace("X40.\n", "")).verdict == "changed behaviour"
