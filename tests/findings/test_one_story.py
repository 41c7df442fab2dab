"""One edit is one story: what only follows from it is told with it, in words and at a place, and never twice."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.findings.changes import compared, findings
from verifier.findings import Status, default_policy, judge
from verifier.findings.examples import TAIL, turning
from verifier.machines import FrozenMap

_CUT = "G01 X58. F0.2\nZ-30.\nX62."
_ROUGH = "G71 U2. R0.5\nG71 P100 Q110 U0.5 W0.1 F0.2\nN100 G00 X40.\nG01 Z-20.\nN110 X62.\nG70 P100 Q110"


def rules(old: str, new: str) -> list[str]:
    return [f.rule for f in findings(old, new)]


def test_what_a_program_does_again_is_told_with_its_repeat() -> None:
    body = f"{_CUT}\nG04 U1.\nM01\nT0303\nG97 S800\nG00 X62. Z-20.\nG01 X50. F0.1\nX62."
    once = turning(body)
    assert rules(once, once.replace("M30", "M99")) == ["program-end-became-repeat"]
    assert rules(once.replace("M30", "M99"), once) == ["repeat-became-program-end"]


def test_an_end_taken_out_and_a_repeat_put_in_elsewhere_are_one_change() -> None:
    old = turning(_CUT, tail=TAIL.replace("M30\n", "M30\nG04 U1.\nG04 U2.\nG04 U3.\nG04 U4.\n"))
    new = old.replace("M30\n", "") + "M99\n"
    assert [r for r in rules(old, new) if "end" in r or "repeat" in r] == ["program-end-became-repeat"]


def test_an_arc_that_only_goes_along_with_its_end_is_not_told_for_itself() -> None:
    arc = turning("G01 X50. F0.2\nZ-20.\nG02 X60. Z-25. R5.\nG01 X62.")
    assert set(rules(arc, arc.replace("X60. Z-25. R5.", "X60. Z-25.2 R5."))) == {"position-changed"}
    assert set(rules(arc, arc.replace("R5.", "R6."))) == {"curve-changed"}
    assert set(rules(arc, arc.replace("X60. Z-25. R5.", "X60. Z-25.2 R6."))) == {"position-changed", "curve-changed"}


def test_a_sign_that_makes_an_arc_impossible_is_one_finding_about_the_change() -> None:
    arc = turning("G01 X50. F0.2\nZ-20.\nG02 X60. Z-25. R5.\nG01 X62.")
    assert rules(arc, arc.replace("Z-20.", "Z20.")) == ["sign-lost"]


@pytest.mark.parametrize(
    ("before", "after"), [("N100 G00", "N101 G00"), ("N110 X62.", "X62."), ("N110 X62.", "N111 X62.")]
)
def test_a_label_that_a_cycle_goes_by_is_the_cause_where_it_is_renamed(before: str, after: str) -> None:
    old = turning(_ROUGH)
    new = old.replace(before, after)
    line = old[: old.index(before)].count("\n") + 1
    comparison = compared(old, new)
    told = judge(comparison, default_policy(), program=[]).findings
    assert told and all(line in {place.line for place in f.causes} for f in told), [(f.title, f.causes) for f in told]
    assert all(k >= 0 for effect in comparison.effects for k in effect.causes)


def test_labels_renamed_with_the_words_that_name_them_are_no_change() -> None:
    old = turning(_ROUGH)
    new = old.replace("N100", "N300").replace("P100", "P300").replace("N110", "N310").replace("Q110", "Q310")
    assert compared(old, new).verdict == "same behaviour"
    assert rules(old, new) == []


def test_a_cycle_that_is_not_executed_is_told_by_its_block_and_not_by_ticks() -> None:
    old = turning(_ROUGH)
    told = [f.title for f in findings(old, old.replace("N110 X62.", "X62."))]
    assert any("G71 P100 Q110 U0.5 W0.1 cannot be computed now" in title for title in told), told
    assert not any("[" in title or "<" in title for title in told)


def test_a_note_at_another_place_is_told_once_and_as_what_it_is() -> None:
    old = turning("(BORE 20 H7)\n(REAM 21 H7)\n" + _CUT)
    new = turning("(REAM 21 H7)\n(BORE 20 H7)\n" + _CUT)
    told = findings(old, new)
    assert [(f.rule, str(f.weight)) for f in told] == [("setup-note-changed", "minor")]
    assert told[0].title.startswith("Setup note stands at another place: ")


def test_of_two_notes_that_say_the_same_one_may_move_and_the_other_go() -> None:
    old = turning("(BORE 20 H7)\n(REAM 21 H7)\n" + _CUT)
    new = turning("(REAM 21 H7)\n(BORE 20 H7)\n(BORE 20 H7)\n" + _CUT)
    assert len(findings(old, new)) == len(findings(new, old)) > 0


@pytest.mark.parametrize(
    ("body", "words"),
    [("/G40\n", "does the same as before"), ("/G01\n", "does the same as before"), ("/G04 U1.\n", "left out")],
)
def test_a_skip_mark_weighs_by_what_the_block_does(body: str, words: str) -> None:
    old, new = (turning(f"G01 X58. F0.2\n{b}Z-30.\nX62.") for b in (body[1:], body))
    told = [f for f in findings(old, new) if f.rule == "skip-changed"]
    assert [str(f.weight) for f in told] == ["major" if words == "left out" else "minor"]
    assert words in told[0].title


def test_a_sequence_made_at_another_time_is_one_order_changed_with_its_way_home() -> None:
    one = "G28 U0. W0.\nM01\nN2 T0303\nG97 S800 M03\nG00 X62. Z-20.\nG01 X50. F0.1\nX62.\nG28 U0. W0.\nM01\n"
    other = "N3 T0505\nG97 S600 M03\nG00 X62. Z-40.\nG01 X44. F0.12\nZ-44.\nX62.\nG28 U0. W0.\nM01\n"
    last = "N4 T0707\nG97 S500 M03\nG00 X62. Z-10.\nG01 X58. F0.05\nX62.\nG28 U0. W0.\n"
    first, behind = one.split("N2")
    old = turning(_CUT + "\n" + first + "N2" + behind + other + last)
    new = turning(_CUT + "\n" + first + other + "N2" + behind + last)
    told = findings(old, new)
    assert [f.rule for f in told] == ["order-changed"], [(f.rule, f.title) for f in told]
    assert "N2" in told[0].title or "N3" in told[0].title


_CHAIN = "G00 X100. Z50.\nM05\nT0100\nM01\nN2 G97 G99\nG50 X200. Z100.\nT0303\nG97 S800 M03\nG00 X62. Z-20.\nG01 X50. F0.1\nX62."


def test_an_offset_cancelled_with_another_tools_number_is_another_tool() -> None:
    """The turret swings at the end of the sequence instead of at its head: the stop and the sequence behind it stay where they are."""
    old = turning(f"{_CUT}\n{_CHAIN}")
    assert rules(old, old.replace("T0100", "T0300")) == ["tool-changed", "work-offset-changed"]


def test_a_preset_whose_shift_shows_in_several_sequences_is_told_once() -> None:
    old = turning(
        f"G50 X150. Z80.\n{_CUT}\nM01\nG50 X140. Z70.\nT0303\nG97 S800 M03\nG00 X62. Z-20.\nG01 X50. F0.1\nX62."
    )
    assert rules(old, old.replace("G50 X150.", "G50 X15.0")) == ["work-offset-changed"]


def test_a_thread_that_is_cut_again_is_told_by_its_passes_and_going_back_is_no_infeed() -> None:
    thread = "G97 S800\nG00 X22. Z4.\nG92 X19.3 Z-20. F1.5\nX18.9\nX18.6\nG00 X62."
    (told,) = findings(turning(thread), turning(f"{thread}\n{thread}"))[:1]
    assert (told.rule, told.before, told.after) == ("thread-depth-changed", "3", "6")
    assert "infeed" not in told.title


def test_a_way_home_that_goes_on_where_a_called_program_ended_is_a_way_home() -> None:
    old = turning(f"{_CUT}\nM98 P9001\nG28 U0. W0.") + "O9001\nG00 U2.\nW3.\nM99\n"
    assert rules(old, old.replace("W0.", "W-1.")) == ["datum-return-changed"]


def test_a_clamp_that_changes_places_with_the_tool_call_before_the_spindle_starts_is_no_difference() -> None:
    old = turning(_CUT)
    assert "T0101\nG50 S2000\n" in old
    assert compared(old, old.replace("T0101\nG50 S2000\n", "G50 S2000\nT0101\n")).verdict == "same behaviour"


def test_a_block_left_behind_the_program_end_is_told_though_nothing_differs() -> None:
    old = turning(_CUT, tail="G00 X100. Z50.\nM05\nM09\nM30\n")
    assert rules(old, old.replace("M09\nM30\n", "M30\nM09\n")) == ["unreached-block-changed"]
    assert rules(old.replace("M09\nM30\n", "M30\nM09\n"), old) == ["unreached-block-changed"]


def statuses(old: str, new: str, rule: str) -> list[Status]:
    return [f.status for f in judge(compared(old, new), default_policy()).findings if f.rule == rule]


def test_a_clamp_taken_out_is_one_finding_and_a_clamp_put_in_too() -> None:
    old = turning("G01 X20. F0.2\nX62.")
    new = old.replace("G50 S2000\n", "")
    for before, after, told in ((old, new, "speed-clamp-removed"), (new, old, "speed-clamp-added")):
        assert statuses(before, after, told) == [Status.CHANGE]
        assert statuses(before, after, "speed-clamp-missing") == []
    assert statuses(new, new, "speed-clamp-missing") == [Status.STANDING]


def test_a_lighter_finding_about_the_change_does_not_hide_the_hazard() -> None:
    old = turning("G01 X20. F0.2\nX62.")
    policy = replace(default_policy(), weights=FrozenMap({"speed-clamp-removed": "minor"}))
    found = judge(compared(old, old.replace("G50 S2000\n", "")), policy).findings
    assert [f.status for f in found if f.rule == "speed-clamp-missing"] == [Status.NEW]


def test_a_program_that_starts_again_still_sets_its_variables() -> None:
    old = turning(f"#101=58.\n{_CUT}")
    assert rules(old, old.replace("M30", "M99")) == ["program-end-became-repeat"]
    assert rules(old.replace("M30", "M99"), old) == ["repeat-became-program-end"]


_END = "G00 X100. Z50.\nM09\nM01\n"
_MORE = "T0{0}0{0}\nG50 S2000\nG96 S180 M03\nG00 X62. Z2. M08\nG01 X40. F0.2\nX62.\n"


def endings(*off: bool) -> str:
    """A program whose sequences end with the spindle on, or (off) stopped."""
    ends = [("G00 X100. Z50.\nM09\nM05\nM01\n" if one else _END) for one in off]
    return turning(_CUT, tail=ends[0] + "".join(_MORE.format(k) + end for k, end in enumerate(ends[1:], 2)) + "M30\n")


def test_endings_stand_or_come_by_their_places_however_many_are_alike() -> None:
    """Three alike are one finding; the two that are left when one was mended stood before, and a fourth is new although others stand."""
    three, two = endings(False, False, False), endings(True, False, False)
    assert statuses(three, three, "sequence-end-unsafe") == [Status.STANDING]
    assert sorted(statuses(three, two, "sequence-end-unsafe")) == [Status.GONE, Status.STANDING, Status.STANDING]
    assert sorted(statuses(two, three, "sequence-end-unsafe")) == [Status.NEW, Status.STANDING, Status.STANDING]
    assert sorted(
        statuses(endings(True, False, False, False), endings(False, False, False, False), "sequence-end-unsafe")
    ) == [
        Status.NEW,
        Status.STANDING,
    ]


@pytest.mark.parametrize(("word", "left"), [("M09\n", "coolant on"), ("M05\n", "the spindle turning")])
def test_an_ending_that_lacked_more_before_is_no_new_one(word: str, left: str) -> None:
    """Both were on at the stop; the edit switches one of them off: that went, and the other still stands there."""
    tail = "G00 X100. Z50.\nM00\nM30\n"
    old, new = (
        turning(_CUT, tail=tail),
        turning(_CUT, tail=tail.replace("M00", ("M05\n" if word == "M09\n" else "M09\n") + "M00")),
    )
    for before, after, other in ((old, new, Status.GONE), (new, old, Status.NEW)):
        found = judge(compared(before, after), default_policy()).findings
        told = {f.title.split("ends with ")[1]: f.status for f in found if f.rule == "sequence-end-unsafe"}
        assert next(status for words, status in told.items() if words.startswith(left)) is Status.STANDING
        assert sorted(map(str, told.values())) == sorted((str(Status.STANDING), str(other)))
