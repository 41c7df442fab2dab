"""The rule `travel-limit`."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from fractions import Fraction
from math import pi

import numpy as np
from numpy.typing import NDArray

from verifier.control import TICKS_PER_MM, Kind, Moves
from verifier.findings import shop
from verifier.findings.contacts import step
from verifier.findings.examples import lathe, sheet, turning
from verifier.findings.model import Box, Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.spells import ARCS
from verifier.findings.view import Hazard, ProgramView
from verifier.machines import Axis, FrozenMap, generic_lathe

_NO_SHIFT = ("", 0, "", 0)
_LATHE = lathe(
    axes=FrozenMap(
        (letter, replace(axis, minimum=Fraction(-500), maximum=Fraction(0)))
        for letter, axis in generic_lathe().axes.items()
    )
)
_SHEET = sheet(work_offsets={"G54": {"X": -400, "Z": -300}})


class TravelLimit(ProgramRule):
    """A move goes beyond the travel of an axis.

    The control stops with an alarm in the middle of the work, or the slide runs onto its stop. With a tool of another length it is earlier or later:
    the work offsets of the setup sheet are for its first tool.
    """

    id = "travel-limit"
    revision = 2
    weight = Weight.CRITICAL
    title = "A move beyond the travel of an axis."
    watch = "Do not start. Run the sequence without a part, and watch the machine position of this axis."
    examples = (
        Example("point lost in a retract", turning("G00 Z5000."), True, line=7, machine=_LATHE, setup=_SHEET),
        Example("in machine coordinates", turning("G53 X-510. Z-100."), True, line=7, machine=_LATHE),
        Example("within", turning("G01 Z-30. F0.2"), False, machine=_LATHE, setup=_SHEET),
        Example(
            "an arc that bulges",
            turning("X62.\nG00 Z299.\nG02 X62. Z299. I-5. K0. F0.2"),
            True,
            line=9,
            machine=_LATHE,
            setup=_SHEET,
        ),
        Example("no work offset given", turning("G00 Z5000."), False, machine=_LATHE),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """For each axis and each side of it the farthest end that is beyond, at the first block that goes there."""
        for axis in (program.machine.axes.get(letter) for letter in "XZ"):
            if axis is not None:
                yield from _beyond(program, axis)


def _beyond(program: ProgramView, axis: Axis) -> Iterator[Hazard]:
    worst: dict[str, tuple[Fraction, Fraction, int]] = {}
    beyond: dict[str, set[int]] = {}
    for zero, rows, ends in _known_ends(program, axis):
        for side, limit, pick, sign in (
            ("minimum", axis.minimum, np.argmin, -1),
            ("maximum", axis.maximum, np.argmax, 1),
        ):
            k = int(pick(ends))
            place = zero + Fraction(int(ends[k]) * (2 if axis.diameter else 1), TICKS_PER_MM)
            over = None if limit is None else sign * (place - limit)
            if limit is None or over is None or over <= 0:
                continue
            last = int((limit - zero) * TICKS_PER_MM / (2 if axis.diameter else 1))
            beyond.setdefault(side, set()).update(program.trace.moves.block[rows[sign * ends > sign * last]].tolist())
            if side not in worst or over > worst[side][1]:
                worst[side] = (place, over, int(rows[k]))
    for side, (place, over, row) in worst.items():
        shown, by = (shop.millimetres(value, program.units) for value in (place, over))
        title = f"{axis.letter} goes to machine position {shown}, {by} beyond its travel{step(program.trace, row)}"
        block = int(program.trace.moves.block[row])
        others = tuple(sorted(beyond[side] - {block}))
        if others:
            title += f", and at {len(others)} more blocks"
        box = _box(program, axis, row, over if side == "maximum" else -over)
        yield Hazard(block, title, f"{axis.letter} {side}", after=by, effects=others[:12], box=box)


def _box(program: ProgramView, axis: Axis, row: int, over: Fraction) -> Box | None:
    """From where the travel ends to where the move ends, on the setup sheet; None for an arc, and for a move in machine positions."""
    moves = program.trace.moves
    if moves.bx1[row] or moves.bz1[row] or moves.kind[row] in ARCS:
        return None
    z, r = int(moves.z1[row]) / TICKS_PER_MM, int(moves.x1[row]) / TICKS_PER_MM
    if axis.letter == "Z":
        return min(z, z - float(over)), max(z, z - float(over)), r, r
    over = over / 2 if axis.diameter else over
    return z, z, min(r, r - float(over)), max(r, r - float(over))


def _known_ends(program: ProgramView, axis: Axis) -> Iterator[tuple[Fraction, NDArray[np.int64], NDArray[np.int64]]]:
    """Moves whose end along an axis has a known machine position: the position of its zero in mm, the moves, their ends in ticks."""
    trace, moves = program.trace, program.trace.moves
    base, end = (moves.bx1, moves.x1) if axis.letter == "X" else (moves.bz1, moves.z1)
    reference = program.machine.reference.get(axis.letter)
    for index, name in enumerate(trace.bases):
        zero = {
            f"{axis.letter} in machine coordinates": Fraction(0),
            f"{axis.letter} at reference": reference,
        }.get(name)
        rows = np.flatnonzero(base == index) if zero is not None else np.zeros(0, np.int64)
        if zero is not None and len(rows):
            yield zero, rows, end[rows]
    offsets = program.side.setup.work_offsets if program.side.setup is not None else {}
    only = next(iter(offsets.values())) if len(offsets) == 1 else {}  # where the program names none
    for index, state in enumerate(trace.states):
        named = offsets.get(state.work_offset, {}) if state.work_offset is not None else only
        offset = named.get(axis.letter)
        if offset is not None and state.frame == _NO_SHIFT:
            rows = np.flatnonzero((base == 0) & (moves.state == index))
            if len(rows):
                yield offset, rows, end[rows]
            arcs = rows[np.isin(moves.kind[rows], ARCS) & ((moves.cx[rows] != 0) | (moves.cz[rows] != 0))]
            if len(arcs):
                yield from ((offset, arcs, bulge) for bulge in _bulges(moves, arcs, axis.letter))


def _bulges(moves: Moves, rows: NDArray[np.int64], letter: str) -> Iterator[NDArray[np.int64]]:
    """The least and the greatest place that each arc reaches along an axis (ticks): a quarter point that lies on it, else its end."""
    start, end = (np.stack((a[rows], b[rows])) for a, b in ((moves.x0, moves.z0), (moves.x1, moves.z1)))
    centre = np.stack((moves.cx[rows], moves.cz[rows]))
    first, last = (np.arctan2(*(place - centre)) for place in (start, end))
    # Angles from +Z towards +X; an arc clockwise in the drawn half plane goes the other way.
    clockwise = moves.kind[rows] == Kind.ARC_CW
    turn = np.where(clockwise, first - last, last - first) % (2 * pi)
    turn = np.where((start == end).all(axis=0), 2 * pi, turn)
    axis = 0 if letter == "X" else 1
    radius = np.rint(np.hypot(*(start - centre))).astype(np.int64)
    for sign in (-1, 1):
        quarter = sign * pi / 2 if letter == "X" else (0.0 if sign > 0 else pi)
        on_it = np.where(clockwise, first - quarter, quarter - first) % (2 * pi) < turn
        yield np.where(on_it, centre[axis] + sign * radius, end[axis])
