"""The verdict: worst over the switch positions, undetermined where an unknown decides, by the finer resolution of both sides."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from tests.compare.pairs import FIRST_LINE, fields, pair, whole
from tests.properties.reviewing import compared, lathe, program
from verifier.compare import levels_of, side

CUT = "G01 X50. F0.2\nZ-10.\nX62."


def test_the_tolerance_is_half_the_finer_increment_of_both_sides() -> None:
    fine = replace(lathe(), increments=replace(lathe().increments, mm=Fraction(1, 10000)), digest="fine")
    near = CUT.replace("X50.", "X50.0004")
    assert pair(CUT, near).verdict == "same behaviour"
    assert pair(CUT, near, fine, lathe()).verdict == "changed behaviour"
    assert pair(CUT, near, lathe(), fine).verdict == "changed behaviour"
    inch = [whole(text).replace(b"G21", b"G20") for text in (CUT, CUT.replace("X50.", "X50.00004"))]
    assert compared(*inch).verdict == "same behaviour"


def test_a_program_in_both_units_has_the_finer_of_both_increments() -> None:
    """0.002 mm are more than the resolution in millimetres and less than half of 0.0001 in."""
    old = CUT + "\nG20"
    assert pair(old, old.replace("X50.", "X50.002")).verdict == "changed behaviour"
    assert pair(old, old.replace("X50.", "X50.0005")).verdict == "same behaviour"
    odd = old.replace("G20", "G#1 G20")
    assert pair(odd, odd.replace("X50.", "X50.002")).verdict != "same behaviour"


def test_a_state_left_that_only_the_machine_knows_on_both_sides_is_no_sure_difference() -> None:
    found = pair(CUT + "\nF#500", CUT + "\nF#501")
    assert fields(found) == ["feed left"]
    assert found.verdict == "undetermined"


def test_below_the_resolution_is_an_effect_and_still_the_same() -> None:
    comparison = pair(CUT, CUT.replace("X50.", "X50.0004"))
    assert comparison.verdict == "same behaviour"
    assert set(fields(comparison)) == {"below-resolution"}


def test_positions_of_switches_are_those_that_either_side_has() -> None:
    comparison = pair("/2" + CUT, "/3" + CUT)
    assert [s.position for s in comparison.switched] == ["all block skips on", "block skip 2 on", "block skip 3 on"]
    assert pair(CUT, CUT).switched == ()
    assert [s.position for s in pair("/" + CUT, CUT).switched] == ["block skip on"]


def test_levels_are_read_from_every_mark() -> None:
    assert levels_of(program(whole("/G00 X70.\n/3 X71.\nX72. /4 Z5."))) == (1, 3, 4)
    assert levels_of(program(whole(CUT))) == ()


def test_a_side_without_a_level_runs_as_with_its_skips_off() -> None:
    comparison = pair(CUT, CUT + "\n/2 M00")
    verdicts = {s.position: s.verdict for s in comparison.switched}
    assert verdicts == {"block skip on": "same behaviour"}
    assert comparison.position == "block skips off"
    assert comparison.verdict == "changed behaviour"


def test_an_effect_that_another_position_has_too_is_told_once() -> None:
    comparison = pair(CUT + "\n/M00", CUT.replace("X50.", "X49.") + "\n/M00")
    assert [e.position for e in comparison.effects if e.field == "x"] == [""]
    only = pair(CUT + "\n/X63.\nX64.", CUT + "\nX63.\nX64.")
    assert only.effects == () or {e.position for e in only.effects} == {"block skip on"}


def test_a_branch_on_an_unknown_is_followed_both_ways_on_both_sides() -> None:
    branch = "IF[#500EQ1]GOTO90\n" + CUT + "\nN90 G00 X70."
    assert pair(branch, branch).verdict == "same behaviour"
    assert pair(branch, branch.replace("\nZ-10.", "\nG01 Z-10.")).verdict == "same behaviour"
    assert pair(branch, branch.replace("\nZ-10.", "\nZ-10. (NOTE)")).verdict == "same behaviour"
    part = pair(branch, branch.replace("Z-10.", "Z-11."))
    assert (part.verdict, part.position) == ("undetermined", "where #500 not 1")
    assert pair(branch, branch.replace("X70.", "X71.")).verdict == "changed behaviour"
    assert (
        pair(
            branch,
            branch.replace("#500EQ1", "#500NE1").replace("GOTO90", "GOTO80").replace("G00 X70.", "G00 X70.\nN80"),
        ).verdict
        != "same behaviour"
    )


def test_the_sequence_of_a_block_is_found_on_its_side() -> None:
    comparison = pair(CUT, CUT.replace("X50.", "X49."))
    assert [s.label if (s := comparison.sequence_of(name, FIRST_LINE)) else "" for name in ("old", "new")] == [
        "N1",
        "N1",
    ]
    assert comparison.sequence_of("old", 10_000) is None


def test_a_side_is_executed_under_its_levels_and_entered_at_its_sequences() -> None:
    one = side(program(whole(CUT + "\n/X63.")), lathe())
    assert [name for name, _ in one.switched] == ["block skip on"]
    assert len(one.ways_in) == len(one.sequences) == 1
    assert len(one.switched[0][1].moves) == len(one.trace.moves) - 1
