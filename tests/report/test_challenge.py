"""The words read from the control tell the new program from its base wherever one word can."""

from __future__ import annotations

import pytest

from verifier import review

HEAD = "O1\nN1 G00 G21 G40 G97 G99\nT0101\nG97 S800 M03\nG00 X50. Z2.\n"
TAIL = "G00 X100. Z50.\nM05\nM30\n"
CUT = "G01 X40. Z-20. F0.2\nX50.\n"


def asked(old: str, new: str) -> tuple[tuple[str, str], ...]:
    return review((HEAD + old + TAIL).encode(), (HEAD + new + TAIL).encode()).challenge


def test_a_changed_word_comes_before_words_of_its_block_that_did_not_change() -> None:
    found = asked(CUT, CUT.replace("F0.2", "F0.4"))
    assert found[0] == ("line 6", "F0.4")
    assert ("line 6", "X40.") in found[1:]


def test_where_two_words_changed_only_such_are_asked_for() -> None:
    assert set(asked(CUT, CUT.replace("X40.", "X39.").replace("F0.2", "F0.4"))) == {
        ("line 6", "X39."),
        ("line 6", "F0.4"),
    }


@pytest.mark.parametrize("new", [CUT.replace("G01", "G00"), CUT.replace("X50.", "X50. M08")])
def test_codes_tell_too(new: str) -> None:
    first = asked(CUT, new)[0]
    assert first[1] in ("G00", "M08")


def test_what_moved_up_tells_that_something_was_taken_out() -> None:
    old = CUT + "M08\nG01 X30. F0.1\nX50.\n"
    place, word = asked(old, old.replace("M08\n", ""))[0]
    line = int(place.removeprefix("line "))
    assert word not in (HEAD + old + TAIL).splitlines()[line - 1].split()


def test_a_change_that_no_word_shows_wants_a_read_back() -> None:
    assert asked(CUT, "/" + CUT) == ()


def test_the_same_behaviour_may_be_told_by_any_words() -> None:
    assert len(asked(CUT, CUT.replace("X50.", "N9 X50."))) > 1
