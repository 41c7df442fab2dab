"""What the oracle of the edit bench knows of codes, and small questions about places and lines. Nothing of the product."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

from tests.edits.words import Line

Act = tuple[Any, ...]
Doing = list[Act]

MOTION = {
    "G00",
    "G01",
    "G02",
    "G03",
    "G32",
    "G33",
    "G34",
    "G80",
    "G83",
    "G84",
    "G85",
    "G87",
    "G88",
    "G89",
    "G90",
    "G92",
    "G94",
}
MODAL = {
    "units": {"G20", "G21"},
    "plane": {"G17", "G18", "G19"},
    "compensation": {"G40", "G41", "G42"},
    "work offset": {"G54", "G55", "G56", "G57", "G58", "G59"},
    "path": {"G61", "G64"},
    "speed mode": {"G96", "G97"},
    "feed mode": {"G98", "G99"},
}
SPINDLE = {"M03": "forward", "M04": "reverse", "M05": "off"}
COOLANT = {"M07": "on 7", "M08": "on 8", "M09": "off"}
ENDS = {"M02", "M30", "M99"}
MULTI = {"G70", "G71", "G72", "G73", "G74", "G75", "G76"}
THREAD = {"G32", "G33", "G34", "G76", "G92"}
SINGLE = {"G90", "G92", "G94"}
DRILL = {"G83", "G84", "G85", "G87", "G88", "G89"}
RESET = {"units": "G21", "plane": "G18", "compensation": "G40", "work offset": "G54"}
"""What a reset restores on the lathe that the edits are judged on: what its profile says of itself."""
LEAST_INFEED, THREAD_ALLOWANCE = Fraction(5, 100), Fraction(0)
"""Of the same lathe: what a pass of a thread goes in by at least, and what is left for the last one, in millimetres, where a program says neither."""
INCH = Fraction(254, 10)
MOST_STEPS = 5000


def block_number(line: Line) -> int | None:
    found = re.match(r"/?N([0-9]+)", "".join(line.text.upper().split()))
    return int(found.group(1)) if found else None


def goes_on_straight(one: Act, other: Act) -> bool:
    """Whether a straight move along one axis goes on the same way as the one before it, with the same in force."""
    if len(one) != 5 or one[0] != other[0] or one[2] != other[1] or one[3:] != other[3:]:
        return False
    for axis, still in ((0, 1), (1, 0)):
        places = [one[1][axis], one[2][axis], other[2][axis]]
        numbers = [_millimetres(p) for p in places]
        if None not in numbers and one[1][still] == one[2][still] == other[2][still]:
            first, middle, last = (n for n in numbers if n is not None)
            return first < middle < last or first > middle > last
    return False


def step_size(amount: Any) -> Fraction | None:
    """A step or depth in millimetres (least increments where it has no point); None where it is not known.

    Such an amount is unsigned. What a control does with a negative one differs from machine to machine (an alarm, or the amount without its
    sign: common practice, no source), so a negative one has no size: it stays as it is written, and equals no other.
    """
    if not isinstance(amount, tuple) or amount[-1] < 0:
        return None
    if amount[0] == "mm":
        return Fraction(amount[1])
    if amount[0] == "no point" and amount[1] in ("G20", "G21"):
        return Fraction(amount[2]) * (Fraction(254, 100_000) if amount[1] == "G20" else Fraction(1, 1000))
    return None


def first_infeed(first: Any, height: Any, kept: Mapping[str, Any]) -> Any:
    """What the first pass of a thread goes in by: as written, but not by less than the least infeed, and not by more than there is to rough.

    The least infeed and what is left for the last pass: in the first line of the two, else of the lathe (common practice, no source).
    """
    depth, full = step_size(first), step_size(height)
    least = step_size(kept["Q"]) if "Q" in kept else LEAST_INFEED
    left = _millimetres(kept["R"]) if "R" in kept else THREAD_ALLOWANCE
    if depth is None or full is None or least is None or left is None or not depth or not 0 <= left < full:
        return first
    return ("mm", min(max(depth, least), full - left))


def apart(one: Any, other: Any) -> Fraction | None:
    """How far two places on an axis are apart, in millimetres; None where that is not known."""
    here, there = _millimetres(one), _millimetres(other)
    return abs(here - there) if here is not None and there is not None else None


def ways_into(places: Sequence[Any], start: Any) -> list[Fraction]:
    """How far places of a contour lie from a cycle's start, on the side to which the contour goes first; none where one is not known."""
    here = _millimetres(start)
    there = [_millimetres(place) for place in places]
    if here is None or None in there:
        return []
    ways = [place - here for place in there if place is not None]
    first = next((way for way in ways if way), Fraction(0))
    return [abs(way) for way in ways if way * first > 0]


def _millimetres(place: Any) -> Fraction | None:
    """A place on an axis in millimetres; None where that is not known."""
    if place == (Fraction(0),):
        return Fraction(0)
    known = isinstance(place, tuple) and len(place) == 2 and place[0] == "mm"
    return place[1] if known else None


def words_text(line: Line) -> str:
    """The words of a line, without block number, blanks and notes."""
    if not line.plain:
        bare = line.text
        for note in line.notes:
            bare = bare.replace(note, "")
        return "".join(bare.upper().split())
    return " ".join(f"{w.letter}{w.value}{'.' if w.pointed else ''}" for w in line.words if w.letter != "N")
