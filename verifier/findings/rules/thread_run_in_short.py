"""The rule `thread-run-in-short`."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from typing import NamedTuple

import numpy as np

from verifier.control import TICKS_PER_MM, Kind, Trace
from verifier.findings import shop
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.phrases import millimetres
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.spells import cutting
from verifier.findings.view import Hazard, ProgramView
from verifier.geometry import run_in, spindle_speed

_FACE = "G00 X62. Z0.\nG01 X-1.6 F0.2\nG00 Z5.\nG97 S{}\nX36.\nZ{}\n"
_CYCLE = "G76 P020060 Q60 R0.04\nG76 X27.546 Z-23.5 P1227 Q300 F2."


class _Start(NamedTuple):
    """Where a thread starts: its row, the way in mm to the face that was cut before it, and the way that it needs."""

    row: int
    way: float
    needed: float


class _Face(NamedTuple):
    """A cut straight across: its last row, its Z, and between which radii it goes, in ticks."""

    row: int
    z: int
    low: int
    high: int


class ThreadRunInShort(ProgramRule):
    """A thread is started too near to the part for its lead and speed.

    The slide needs some way until it follows the spindle; on it the lead is wrong, by more than 1 % here, and the first turns of the thread do not
    go into the gauge. A lower speed needs less way. The figure is a published one for older slides: the control's manual has its own.
    """

    id = "thread-run-in-short"
    revision = 2
    weight = Weight.MINOR
    title = "A thread is started too near to the part."
    watch = "Try the gauge on the first turns of the thread; start farther away, or thread at a lower speed."
    examples = (
        Example("2 mm at 800 rev/min and lead 2", turning(_FACE.format(800, "2.") + _CYCLE), True, line=14),
        Example("5 mm", turning(_FACE.format(800, "5.") + _CYCLE), False),
        Example("2 mm at 300 rev/min", turning(_FACE.format(300, "2.") + _CYCLE), False),
        Example(
            "the face cut in two blocks",
            turning(
                _FACE.format(800, "2.").replace("G01 X-1.6", "G01 X30.").replace("\nG00 Z5.", "\nX-1.6\nG00 Z5.")
                + _CYCLE
            ),
            True,
            line=15,
        ),
        Example("no face cut before", turning("G97 S800\nG00 X36. Z2.\n" + _CYCLE), False),
        Example("a single threading move", turning(_FACE.format(800, "2.") + "X28.\nG32 Z-20. F2."), True, line=14),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """The pass of each threading block that starts nearest, where a face was cut before it and the speed is known."""
        nearest: dict[int, _Start] = {}
        for start in _starts(program):
            block = int(program.trace.moves.block[start.row])
            if block not in nearest or start.way - start.needed < nearest[block].way - nearest[block].needed:
                nearest[block] = start
        for block, start in nearest.items():
            if start.way >= start.needed:
                continue
            state = program.trace.states[int(program.trace.moves.state[start.row])]
            way, needed = (millimetres(amount, program.units) for amount in (start.way, start.needed))
            lead = shop.millimetres(Fraction(state.feed or 0), program.units)
            title = f"The thread starts {way} before the face; a lead of {lead} at this speed needs {needed}"
            yield Hazard(block, title, f"{way} {needed}")


def _starts(program: ProgramView) -> Iterable[_Start]:
    trace = program.trace
    moves = trace.moves
    threaded = moves.kind == Kind.THREAD
    begins = np.flatnonzero(threaded & ~np.concatenate(([False], threaded[:-1])))
    if not len(begins):
        return
    faces = _faces(trace)
    for row in begins.tolist():
        dx, dz = int(moves.x1[row] - moves.x0[row]), int(moves.z1[row] - moves.z0[row])
        state = trace.states[int(moves.state[row])]
        if moves.bx0[row] or moves.bz0[row] or abs(dz) < abs(dx) or not isinstance(state.feed, Fraction):
            continue
        rpm = spindle_speed(state, int(moves.x0[row]), program.machine)
        face = _face(trace, faces, row)
        if rpm and face is not None:
            way = (face - int(moves.z0[row])) * (1 if dz > 0 else -1) / TICKS_PER_MM
            yield _Start(row, way, run_in(float(state.feed), rpm))


def _faces(trace: Trace) -> list[_Face]:
    """Cuts straight across, at one known Z; a cut that goes on where the one before it ended is the same face."""
    m = trace.moves
    rows = cutting(trace)
    known = (m.bx0[rows] == 0) & (m.bx1[rows] == 0) & (m.bz0[rows] == 0) & (m.bz1[rows] == 0)
    found: list[_Face] = []
    for row in rows[known & (m.kind[rows] == Kind.FEED) & (m.z0[rows] == m.z1[rows])].tolist():
        low, high = sorted((int(m.x0[row]), int(m.x1[row])))
        z = int(m.z0[row])
        if found and found[-1].row == row - 1 and found[-1].z == z and _same_coordinates(trace, row - 1, row):
            low, high = min(low, found[-1].low), max(high, found[-1].high)
            found.pop()
        found.append(_Face(row, z, low, high))
    return found


def _face(trace: Trace, faces: list[_Face], row: int) -> int | None:
    """The Z of the last face that lies before the thread: cut well past its diameter, on the side where the material is."""
    m = trace.moves
    x, z0, z1 = (int(column[row]) for column in (m.x0, m.z0, m.z1))
    outside = _clear_x(trace, row) > x

    def across(face: _Face) -> bool:
        # A groove for the run-out crosses the thread's diameter, too, but not by a quarter of it.
        if outside:
            return face.low * 4 <= 3 * x and face.high >= x
        return face.high * 4 >= 5 * x and face.low <= x

    places = [
        face.z
        for face in faces
        if face.row < row
        and across(face)
        and (face.z - z1) * (1 if z0 > z1 else -1) > 0
        and _same_coordinates(trace, face.row, row)
    ]
    if not places:
        return None
    return min(places) if z0 > z1 else max(places)


def _clear_x(trace: Trace, row: int) -> int:
    """The X to which the tool goes away from the thread."""
    moves = trace.moves
    away = np.flatnonzero(moves.kind[row:] != Kind.THREAD)
    return int(moves.x1[row + int(away[0])]) if len(away) else int(moves.x1[row])


def _same_coordinates(trace: Trace, one: int, other: int) -> bool:
    states = [trace.states[int(trace.moves.state[k])] for k in (one, other)]
    return states[0].frame == states[1].frame and states[0].work_offset == states[1].work_offset
