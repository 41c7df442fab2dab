"""A line made in other pieces: what changed along it is told piece by piece, however the pieces are joined."""

from __future__ import annotations

import pytest

from verifier.compare import compare, side
from verifier.machines import generic_lathe
from verifier.source import read_source
from verifier.syntax import parse

HEAD = "O1\nG21 G99 G97 S500 M03\nT0101\nG00 X60. Z0.\n"
END = "G00 X80.\nM30\n"


def fields(old: str, new: str) -> list[tuple[str, str, str]]:
    sides = [side(parse(read_source((HEAD + text + END).encode())), generic_lathe()) for text in (old, new)]
    found = compare(*sides)
    return [(e.field, str(d.before), str(d.after)) for e in found.effects for d in e.differences]


ONE = "G01 X50. F.2\nX40. F.1\nX30. F.2\n"
JOINED = "G01 X50. F.2\nX40.\nX30. F.2\n"


def test_a_feed_taken_away_in_the_middle_of_a_line_is_a_changed_feed_and_nothing_else() -> None:
    assert fields(ONE, JOINED) == [("feed", "1/10", "1/5")]


def test_exchanging_the_sides_exchanges_before_and_after() -> None:
    assert fields(JOINED, ONE) == [("feed", "1/5", "1/10")]


@pytest.mark.parametrize(
    ("old", "new", "wanted"),
    [
        ("G01 X30. F.2\n", "G01 X40. F.2\nX35. F.4\nX30. F.2\n", [("feed", "1/5", "2/5")]),
        ("G01 X50. F.2\nX30.\n", "G01 X30. F.2\n", []),
        ("G00 X50. M08\nX30.\n", "G00 X50.\nX30. M08\n", [("coolant", "on", "None")]),
    ],
)
def test_each_piece_is_compared_with_what_the_other_side_does_there(
    old: str, new: str, wanted: list[tuple[str, str, str]]
) -> None:
    assert sorted(fields(old, new)) == sorted(wanted)


def test_points_that_lie_elsewhere_on_the_line_are_told_as_places() -> None:
    old, new = "G01 X50. F.2\nX30. F.1\n", "G01 X40. F.2\nX30. F.1\n"
    assert fields(old, new) == [("x", "('', 2500000000)", "('', 2000000000)")]


def test_a_line_that_ends_elsewhere_keeps_its_pieces() -> None:
    assert ("x", "('', 1500000000)", "('', 1450000000)") in fields(ONE, ONE.replace("X30.", "X29."))


@pytest.mark.parametrize("coordinates", [("X50. F.2", "X30."), ("X40. F.2\nX35.", "X30.")])
def test_a_cut_that_became_part_of_the_rapid_behind_it_is_a_changed_kind_of_motion(
    coordinates: tuple[str, str],
) -> None:
    cut, rest = coordinates
    old, new = f"G01 {cut}\nG00 {rest}\n", f"G00 {cut}\nG00 {rest}\n"
    assert {(name, before, after) for name, before, after in fields(old, new) if name == "kind"} == {
        ("kind", "feed", "rapid")
    }
    assert not {name for name, _, _ in fields(old, new)} & {"added", "removed", "x", "z"}
    assert ("kind", "rapid", "feed") in fields(new, old)
