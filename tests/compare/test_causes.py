"""Who did it: the edit that an effect is led back to, near and far."""

from __future__ import annotations

from dataclasses import replace

from tests.compare.pairs import edited, effect, pair
from tests.properties.reviewing import compared, lathe
from verifier.compare import PROFILE
from verifier.machines import FrozenMap

CUT = "G01 X50. F0.2\nZ-10.\nX62.\nG00 Z2.\nG01 X48.\nZ-10.\nX62."
CHANGED = [((0,), (0,))]


def test_a_feed_word_is_the_cause_of_every_cut_it_governs() -> None:
    comparison = pair(CUT, CUT.replace("F0.2", "F0.3"))
    found = effect(comparison, "feed")
    assert edited(comparison, found) == CHANGED
    assert len(found.differences) == 6


def test_a_removed_word_is_the_cause_of_what_then_stays_in_force() -> None:
    old = CUT.replace("G01 X48.", "G01 X48. F0.1")
    comparison = pair(old, CUT)
    assert edited(comparison, effect(comparison, "feed")) == [((4,), (4,))]


def test_an_increment_carries_its_shift_to_where_an_absolute_word_ends_it() -> None:
    old = "G01 U-2. F0.2\nW-5.\nU1.\nW-5.\nX62.\nZ3."
    comparison = pair(old, old.replace("W-5.\nU1.", "W-6.\nU1."))
    found = effect(comparison, "z")
    assert edited(comparison, found) == [((1,), (1,))]
    assert found.differences[0].before == ("", -3 * 100_000_000)


def test_of_two_edits_that_shift_one_axis_the_nearest_is_the_cause() -> None:
    old = "G01 W-5. F0.2\nX58.\nW-5.\nX57.\nW-5.\nX62.\nZ2."
    comparison = pair(old, old.replace("G01 W-5.", "G01 W-6.").replace("X58.\nW-5.", "X58.\nW-7."))
    causes = [edited(comparison, e) for e in comparison.effects if e.field == "z"]
    assert causes == [[((0,), (0,))], [((2,), (2,))]]


def test_a_contour_block_is_the_cause_of_the_levels_it_moves() -> None:
    old = "G71 U2. R0.5\nG71 P10 Q20 U0.4 W0.1 F0.3\nN10 G00 X40.\nG01 Z-20. F0.2\nN20 X60.\nG70 P10 Q20"
    comparison = pair(old, old.replace("Z-20.", "Z-21."))
    assert {edit for e in comparison.effects for edit in e.causes} == {0}
    assert comparison.edit(0).words[0].letter == "Z"


def test_the_first_line_of_a_cycle_is_a_cause_of_what_its_second_makes() -> None:
    old = "G71 U2. R0.5\nG71 P10 Q20 U0.4 W0.1 F0.3\nN10 G00 X40.\nG01 Z-20. F0.2\nN20 X60."
    comparison = pair(old, old.replace("U2. R0.5", "U2.5 R0.5"))
    assert comparison.effects
    for found in comparison.effects:
        assert edited(comparison, found) == CHANGED


def test_a_block_of_a_subprogram_and_its_call_are_both_looked_for() -> None:
    main = b"O1\nG21\nN1 G00 G97 G99\nT0101\nG97 S800 M03\nG00 X60. Z2.\nM98 P8 L3\nG00 X80. Z50.\nM30\nO8\nG01 U-2. F0.2\nG00 U2.\nW-1.\nM99\n"
    deeper = compared(main, main.replace(b"U-2.", b"U-3.").replace(b"U2.", b"U3."))
    assert all(k >= 0 for e in deeper.effects for k in e.causes)
    oftener = compared(main, main.replace(b"L3", b"L4"))
    assert oftener.verdict == "changed behaviour"
    assert {k for e in oftener.effects for k in e.causes} == {0}


def test_the_state_left_at_the_end_names_who_left_it() -> None:
    comparison = pair(CUT, CUT.replace("F0.2", "F0.3"))
    (left,) = [e for e in comparison.effects if e.left]
    assert (left.field, edited(comparison, left)) == ("feed", CHANGED)


def test_the_profile_is_the_cause_where_no_edit_is() -> None:
    whole = replace(
        lathe(), choices=FrozenMap({**lathe().choices, "number-without-point": "whole-units"}), digest="other"
    )
    text = CUT.replace("X48.", "X48")
    assert pair(text, text).effects == ()
    comparison = pair(text, text, whole, lathe())
    assert {e.causes for e in comparison.effects} == {(PROFILE,)}
    both = pair(text, text.replace("F0.2", "F0.3"), whole, lathe())
    assert {e.field: e.causes for e in both.effects if not e.left} == {"feed": (0,), "x": (PROFILE,)}


def test_every_removed_block_is_behind_what_went_with_it() -> None:
    comparison = pair(CUT, "\n".join(CUT.split("\n")[:3]))
    removed = [e for e in comparison.effects if e.field == "removed"]
    assert removed
    assert all(edited(comparison, e) == [((3, 4, 5, 6), ())] for e in removed)
