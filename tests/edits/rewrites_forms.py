"""Harmless rewrites of whole forms of speech: arcs by centre or radius, increments or places, cycles written out, lines put into a subprogram.

Arc centres: plane geometry. Single cycles as single moves: CHECKS 3.4 (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from math import isqrt
from random import Random

from tests.edits.edit import replaced
from tests.edits.oracle import Run, forward
from tests.edits.rewrites import contours, exact, known, plain_motion
from tests.edits.words import Line

Point = tuple[Fraction, Fraction]
"""Radius and Z."""
_OTHER = {"X": "U", "U": "X", "Z": "W", "W": "Z"}


def walked(lines: Sequence[Line]) -> Iterator[tuple[int, Line, Run]]:
    """Every line of plain words outside contours, with what is in force and where the tool is in front of it."""
    run, inside = Run(lines), contours(lines)
    goes_on: int | None = 0
    for k, line in enumerate(lines):
        if goes_on is None:
            return
        if k < goes_on:
            continue
        if line.plain and k not in inside and not line.skip:
            yield k, line, run
        goes_on = forward(k, run.block(k, line))


def _here(run: Run) -> Point | None:
    units = str(run.state.get("units", "?"))
    x, z = known(run.place["X"], units), known(run.place["Z"], units)
    return None if x is None or z is None else (x / 2, z)


def _goal(line: Line, here: Point) -> Point | None:
    """Where the axis words of a line lead; None where one has no point."""
    x, z = here
    for word in line.words:
        if word.letter in "XZUW" and word.value and not word.pointed:
            return None
        if word.letter == "X":
            x = word.value / 2
        if word.letter == "U":
            x += word.value / 2
        if word.letter == "Z":
            z = word.value
        if word.letter == "W":
            z += word.value
    return x, z


def _root(value: Fraction) -> Fraction | None:
    """The square root where it is a fraction."""
    above, below = isqrt(max(value.numerator, 0)), isqrt(value.denominator)
    return Fraction(above, below) if above**2 == value.numerator and below**2 == value.denominator else None


def _cross(start: Point, end: Point, centre: Point) -> Fraction:
    """Above zero where the way from start to end turns counterclockwise round the centre, Z to the right and X up (below half a turn)."""
    return (start[1] - centre[1]) * (end[0] - centre[0]) - (start[0] - centre[0]) * (end[1] - centre[1])


def _centre(start: Point, end: Point, radius: Fraction, sense: str) -> Point | None:
    dx, dz = end[0] - start[0], end[1] - start[1]
    apart = dx * dx + dz * dz
    share = _root((radius * radius - apart / 4) / apart) if apart else None
    if share is None:
        return None
    middle = (start[0] + end[0]) / 2, (start[1] + end[1]) / 2
    for sign in (1, -1):
        centre = middle[0] + sign * share * dz, middle[1] - sign * share * dx
        turn = _cross(start, end, centre)
        if turn == 0 or (turn < 0) is (sense == "G02"):
            return centre
    return None


def _arcs(lines: Sequence[Line]) -> Iterator[tuple[int, Line, Point, Point, str]]:
    for k, line, run in walked(lines):
        sense = next((c for c in ("G02", "G03") if line.has(c)), None)
        here = _here(run)
        if sense is None or here is None or line.notes or run.state.get("plane") != "G18":
            continue
        goal = _goal(line, here)
        if goal is not None and not any(w.letter == "M" for w in line.words):
            yield k, line, here, goal, sense


def _by_centre(lines: Sequence[Line], chance: Random) -> Iterator[str]:
    for k, line, here, goal, sense in _arcs(lines):
        word = line.word("R")
        if word is None or not word.pointed or word.value <= 0:
            continue
        centre = _centre(here, goal, word.value, sense)
        if centre is None:
            continue
        i, kk = exact(centre[0] - here[0], 3), exact(centre[1] - here[1], 3)
        if i is not None and kk is not None:
            yield replaced(lines, k, line.with_text(word, f"I{i} K{kk}"))


def _by_radius(lines: Sequence[Line], chance: Random) -> Iterator[str]:
    for k, line, here, goal, sense in _arcs(lines):
        words = [w for w in line.words if w.letter in "IK"]
        if not words or any(w.value and not w.pointed for w in words) or line.word("R"):
            continue
        i, kk = (sum((w.value for w in words if w.letter == letter), Fraction(0)) for letter in "IK")
        centre, radius = (here[0] + i, here[1] + kk), _root(i * i + kk * kk)
        if radius is None or (goal[0] - centre[0]) ** 2 + (goal[1] - centre[1]) ** 2 != radius**2:
            continue
        text = exact(radius, 3)
        if text is not None and here != goal and (_cross(here, goal, centre) < 0) is (sense == "G02"):
            yield replaced(lines, k, f"{line.without(*words)} R{text}")


def _places(lines: Sequence[Line], chance: Random) -> Iterator[str]:
    """Increments written as places, where the place in front is known."""
    for k, line, _, run in plain_motion(lines):
        words = [w for w in line.words if w.letter in "UW" and w.pointed]
        units = str(run.state.get("units", "?"))
        for word in words if len(words) == len([w for w in line.words if w.letter in "XZUW"]) else ():
            here = known(run.place[_OTHER[word.letter]], units)
            text = exact(here + word.value) if here is not None else None
            if text is not None:
                yield replaced(lines, k, line.with_text(word, _OTHER[word.letter] + text))


_STROKES = {"G90": ("X", "Z"), "G94": ("Z", "X")}


def _single_out(lines: Sequence[Line], chance: Random) -> Iterator[str]:
    """A straight single cycle with all its passes as single moves: in by rapid, cut, out at the feed, back by rapid."""
    for k, line, run in walked(lines):
        code = next((c for c in _STROKES if line.has(c)), None)
        if code is None or line.word("RIKM") or line.notes or len([w for w in line.words if w.letter == "G"]) > 1:
            continue
        here = _here(run)
        end = k + 1
        while (
            end < len(lines)
            and lines[end].plain
            and lines[end].words
            and all(w.letter in "XZF" for w in lines[end].words)
        ):
            end += 1
        closes = next((one for one in lines[end:] if one.words), None)
        if here is None or closes is None or not closes.plain or not closes.has("G00", "G01"):
            continue
        made = _strokes(lines[k:end], code, here)
        if made is not None:
            yield replaced(lines, k, *made, count=end - k)


def _strokes(lines: Sequence[Line], code: str, here: Point) -> list[str] | None:
    start = {"X": exact(here[0] * 2), "Z": exact(here[1])}
    into, along = _STROKES[code]
    goal: dict[str, str] = {}
    made: list[str] = []
    for line in lines:
        words = [w for w in line.words if w.letter in "XZUW"]
        if any(w.letter in "UW" or (w.value and not w.pointed) for w in words):
            return None
        goal |= {w.letter: w.number for w in words}
        feed = "".join("F" + w.number for w in line.words if w.letter == "F")
        if set(goal) != {"X", "Z"} or None in start.values():
            return None
        number = "".join(f"N{w.number} " for w in line.words if w.letter == "N")
        made += [f"{number}G00 {into}{goal[into]}", f"G01 {along}{goal[along]} {feed}".strip()]
        made += [f"{into}{start[into]}", f"G00 {along}{start[along]}"]
    return made


def _into_subprogram(lines: Sequence[Line], chance: Random) -> Iterator[str]:
    """Two or more lines of plain motion put into a subprogram behind the end, and called.

    None under nose compensation: the call and the program number are two blocks without motion, behind which some controls no longer see the
    next corner (common practice, no source), so that the tool goes another way.
    """
    found = [
        k
        for k, line, _, run in plain_motion(lines)
        if not line.notes and not line.word("N") and run.state.get("compensation", "G40") == "G40"
    ]
    runs: list[list[int]] = []
    for k in found:
        if runs and k == runs[-1][-1] + 1:
            runs[-1].append(k)
        else:
            runs.append([k])
    name = next((n for n in range(9100, 9110) if not any(f"{n}" in line.text for line in lines)), None)
    tail = next((k for k, line in enumerate(lines) if line.plain and line.has("M30", "M02")), None)
    for run in runs:
        if len(run) > 1 and name is not None and tail is not None and run[-1] < tail:
            texts = [lines[k].text for k in run]
            sub = ["", f"O{name}", *texts, "M99"]
            yield "\n".join(
                [*(x.text for x in lines[: run[0]]), f"M98 P{name}", *(x.text for x in lines[run[-1] + 1 : tail + 1]), *sub,
                 *(x.text for x in lines[tail + 1 :])]
            )  # fmt: skip


FORMS = {
    "arc by its centre": _by_centre,
    "arc by its radius": _by_radius,
    "increments as places": _places,
    "single cycle written out": _single_out,
    "lines in a subprogram": _into_subprogram,
}


__all__ = ["FORMS"]
