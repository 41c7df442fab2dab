"""Waiting for the spindle's marker before a pass of a thread.

Every pass of a thread must start at the same angle: the control stands at its start until the spindle comes round to its marker. Where in its turn
the spindle then is depends on all that went before; of angles that are all as likely the mean wait is half a turn, the greatest one turn.
Passes that go on from one another without anything between start together (common practice, no source).
"""

from __future__ import annotations

import numpy as np

from verifier.control import Kind, Trace
from verifier.geometry.run_up import SpindleWait, Waits
from verifier.geometry.speeds import spindle_speed
from verifier.machines import Machine

HALF_TURN = 30.0
"""Seconds of half a turn at one revolution per minute."""


def marker_waits(trace: Trace, machine: Machine) -> Waits:
    """Half a turn before each pass of the first pass through the program; `unknown` where the speed at its start is not known."""
    moves = trace.moves
    kinds = moves.kind[: trace.first_pass]
    passes = np.flatnonzero(kinds == Kind.THREAD)
    starts = passes[(passes == 0) | (kinds[np.maximum(passes, 1) - 1] != Kind.THREAD)]
    found, unknown = [], []
    for row in starts.tolist():
        state = trace.states[int(moves.state[row])]
        known = state.speed_mode != "surface" or not moves.bx0[row]
        rpm = spindle_speed(state, int(moves.x0[row]), machine) if known else None
        if rpm:
            found.append(SpindleWait(row, int(moves.block[row]), int(moves.caller[row]), HALF_TURN / rpm))
        elif rpm is None:
            unknown.append(row)
    return Waits(tuple(found), tuple(unknown), covered=False)
