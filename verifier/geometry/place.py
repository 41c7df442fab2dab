"""Where the moves of a trace lie in the setup sheet's own coordinates: work offsets, local shifts, and what is not known."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from verifier.control import TICKS_PER_MM, InForce, Kind, Trace
from verifier.machines import Machine, Setup

Floats = NDArray[np.float64]

NO_CENTRE = "its arc cannot be: which way the tool goes is not known"
UNKNOWN_PLACE = "its start or its end is a place that only the machine knows"


class Places:
    """Starts, ends and arc centres of all moves as (Z, R) in mm; `why[k]` is text where a move has no place on the sheet, else "".

    `ends_known` tells for each move whether its end at least has one.
    """

    def __init__(self, trace: Trace, machine: Machine, setup: Setup) -> None:
        moves = trace.moves
        self._home = home_of(trace, setup)
        self._machine, self._setup = machine, setup
        shifts = [self._shift(state) for state in trace.states]
        said = [shift if isinstance(shift, str) else "" for shift in shifts]
        # A frame moves with its state; the columns are small whole numbers of ticks, so nothing is rounded before the division.
        by_state = np.array([(0, 0) if isinstance(s, str) else s for s in shifts] or [(0, 0)], np.int64)
        frame_x, frame_z = by_state[moves.state].T if len(moves) else (np.zeros(0, np.int64),) * 2
        self.start = _millimetres(moves.z0 + frame_z, moves.x0 + frame_x)
        self.end = _millimetres(moves.z1 + frame_z, moves.x1 + frame_x)
        self.centre = _millimetres(moves.cz + frame_z, moves.cx + frame_x)
        unknown = (moves.bx0 != 0) | (moves.bz0 != 0) | (moves.bx1 != 0) | (moves.bz1 != 0)
        placed = np.array([not text for text in said] or [True], np.bool_)
        self.ends_known = (moves.bx1 == 0) & (moves.bz1 == 0) & placed[moves.state]
        no_centre = (moves.kind >= Kind.ARC_CW) & (moves.kind <= Kind.ARC_CCW) & (moves.cx == 0) & (moves.cz == 0)
        words = np.array([bool(remark) for remark in trace.remarks] or [False], np.bool_)
        no_centre &= words[moves.remark] if len(moves) else no_centre
        self.why = [
            UNKNOWN_PLACE if lost else NO_CENTRE if bent else said[k]
            for lost, bent, k in zip(unknown.tolist(), no_centre.tolist(), moves.state.tolist(), strict=True)
        ]

    def _shift(self, state: InForce) -> tuple[int, int] | str:
        """X (radius) and Z in ticks from the state's coordinates to the sheet's, or why they are not known."""
        base_x, x, base_z, z = state.frame
        if base_x or base_z:
            return "the program writes an offset whose old value only the machine knows"
        if state.plane not in (None, "G18"):
            return "it is not in the turning plane"
        name = state.work_offset
        if name is None or self._home is None or name == self._home:
            return x, z
        here, home = (self._setup.work_offsets.get(code) for code in (name, self._home))
        if here is None or home is None or not {"X", "Z"} <= set(here) & set(home):
            return f"how {name} lies to {self._home} is not in the setup sheet"
        across = (here["X"] - home["X"]) / (2 if self._machine.axes["X"].diameter else 1)
        return x + _ticks(across), z + _ticks(here["Z"] - home["Z"])


def home_of(trace: Trace, setup: Setup) -> str | None:
    """The work offset in whose coordinates the sheet is written: its only one, else the first that the program uses."""
    if len(setup.work_offsets) == 1:
        return next(iter(setup.work_offsets))
    used = (trace.states[k].work_offset for k in trace.moves.state.tolist())
    return next((name for name in used if name is not None), None)


def _ticks(millimetres: Fraction) -> int:
    return round(millimetres * TICKS_PER_MM)


def _millimetres(z: NDArray[np.int64], x: NDArray[np.int64]) -> Floats:
    return np.stack((z, x), 1) / TICKS_PER_MM
