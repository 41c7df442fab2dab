"""Where two traces part: the field of every difference, its values, and whether it is sure."""

from __future__ import annotations

from fractions import Fraction

import pytest

from tests.compare.pairs import MM, effect, fields, pair
from verifier.compare import match

CUT = "G01 X50. F0.2\nZ-10.\nX62."


@pytest.mark.parametrize(
    ("new", "wanted"),
    [
        (CUT.replace("X50.", "X49."), ["x"]),
        (CUT.replace("Z-10.", "Z-11."), ["z"]),
        (CUT.replace("F0.2", "F0.3"), ["feed", "feed left"]),
        (CUT.replace("G01 X50.", "S900\nG01 X50."), ["speed", "speed left"]),
        (CUT.replace("G01 X50.", "M04\nG01 X50."), ["sense"]),
        (CUT.replace("G01 X50.", "M08\nG01 X50."), ["coolant"]),
        (CUT.replace("\nZ-10.", "\nG00 Z-10."), ["kind"]),
        (CUT.replace("\nZ-10.", "\nG04 P100\nZ-10."), ["added"]),
        (CUT.replace("\nZ-10.", "\nM00\nZ-10."), ["added"]),
        (CUT.replace("\nX62.", "\nX62. B3."), ["remark"]),
        (CUT.replace("G01 X50.", "G98\nG01 X50."), ["feed_mode", "feed_mode left"]),
        (CUT.replace("G01 X50.", "G61\nG01 X50."), ["path_mode", "path_mode left"]),
    ],
)
def test_every_kind_of_change_has_its_field(new: str, wanted: list[str]) -> None:
    assert fields(pair(CUT, new)) == wanted


def test_values_are_exact_and_stand_as_before_and_after() -> None:
    found = effect(pair(CUT, CUT.replace("F0.2", "F0.3")), "feed")
    assert (found.before, found.after) == (Fraction(1, 5), Fraction(3, 10))
    moved = effect(pair(CUT, CUT.replace("X50.", "X49.")), "x")
    assert (moved.before, moved.after) == (("", 25 * MM), ("", 49 * MM // 2))
    assert len(moved.differences) == 2  # the end of the cut in X, and that of the cut along Z behind it


def test_an_arc_by_another_radius_is_another_curve_between_the_same_points() -> None:
    found = pair("G03 X64. Z0. R3. F0.1", "G03 X64. Z0. R4. F0.1")
    assert fields(found) == ["arc"]
    assert found.verdict == "changed behaviour"


def test_an_arc_the_other_way_round_is_another_kind() -> None:
    assert "kind" in fields(pair("G03 X64. Z0. R3. F0.1", "G02 X64. Z0. R3. F0.1"))


def test_a_stretch_made_at_another_time_is_a_difference_of_order() -> None:
    long = [f"G01 X{50 - k}. F0.{k + 1}\nZ-1{k}.\nG00 X62.\nZ{k + 3}.\nG04 P{k + 1}00" for k in range(4)]
    found = pair("\n".join(long), "\n".join([long[0], long[2], long[3], long[1]]))
    assert found.verdict == "changed behaviour"
    assert {"order"} <= set(fields(found)) or {"added", "removed"} <= set(fields(found))


def test_two_unknowns_that_differ_may_be_one_and_a_known_one_is_a_difference() -> None:
    unsure = pair("G01 X50. F#500", "G01 X50. F#501")
    assert not effect(unsure, "feed").certain
    assert unsure.verdict == "undetermined"
    sure = pair("G01 X50. F#500", "G01 X50. F0.2")
    assert effect(sure, "feed").certain
    assert sure.verdict == "changed behaviour"


def test_every_item_is_paired_or_lone_exactly_once() -> None:
    comparison = pair(CUT + "\nG04 P100\nG00 X70.\nZ-5.", CUT.replace("X50.", "X45.") + "\nG00 X71.\nM00\nZ-6.")
    old, new = comparison.items
    found = match(old, new, comparison.tolerance)
    paired_old, paired_new = (sorted(side) for side in zip(*found.pairs, strict=True))
    lone_old = [d for d in found.differences if d.field == "removed"]
    lone_new = [d for d in found.differences if d.field == "added"]
    assert len(set(paired_old)) + len(lone_old) == len(old.items)
    assert len(set(paired_new)) + len(lone_new) == len(new.items)
    assert match(old, old, comparison.tolerance).differences == ()


def test_stops_that_differ_are_told_apart_from_the_path() -> None:
    comparison = pair("G01 Z-10. F0.2", "G01 Z-4. F0.2\nZ-10.")
    assert comparison.effects == ()
    assert len(comparison.stops_differ) == 1
    assert pair("G01 Z-10. F0.2", "G01 Z-10. F0.2 (X)").stops_differ == ()
