"""How fast the spindle turns along every move of a trace, all moves at once."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from verifier.control import TICKS_PER_MM, InForce, Trace
from verifier.geometry.speeds import SpeedLaw, speed_law
from verifier.machines import Machine

Floats = NDArray[np.float64]
Rows = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Turns:
    """Rev/min by move: `ends` at its start and its end, `top` the greatest on its way; NaN: not known. `why` gives the reason by state."""

    ends: Floats
    top: Floats
    why: dict[int, str]


def by_state(trace: Trace, rows: Rows) -> Iterator[tuple[int, InForce, Rows]]:
    """These moves, gathered by what is in force."""
    states = trace.moves.state[rows]
    order = np.argsort(states, kind="stable")
    for group in np.split(rows[order], np.flatnonzero(np.diff(states[order])) + 1):
        if len(group):
            index = int(trace.moves.state[group[0]])
            yield index, trace.states[index], group


def turns(trace: Trace, machine: Machine) -> Turns:
    """The speed along the moves of the first pass, clamped; a spindle that does not turn has 0."""
    moves, count = trace.moves, len(trace.moves)
    ends, top = np.full((count, 2), np.nan), np.full(count, np.nan)
    why: dict[int, str] = {}
    radii = moves.x0 / TICKS_PER_MM, moves.x1 / TICKS_PER_MM
    nearest = np.where(radii[0] * radii[1] <= 0, 0.0, np.minimum(np.abs(radii[0]), np.abs(radii[1])))
    known = moves.bx0 == 0, moves.bx1 == 0
    for index, state, rows in by_state(trace, np.arange(trace.first_pass)):
        if state.sense not in (None, "forward", "reverse"):
            ends[rows], top[rows] = 0.0, 0.0
            continue
        law = speed_law(state, machine)
        if isinstance(law, str):
            why[index] = law
            continue
        fixed = law.surface is None
        for k in (0, 1):
            ends[rows, k] = np.where(known[k][rows] | fixed, _speed(law, radii[k][rows]), np.nan)
        both = known[0][rows] & known[1][rows] | fixed
        top[rows] = np.where(both, _speed(law, nearest[rows]), np.fmax(ends[rows, 0], ends[rows, 1]))
    return Turns(ends, top, why)


def _speed(law: SpeedLaw, radius: Floats) -> Floats:
    return np.asarray(1 / np.maximum(1 / law.limit, law.slope * np.abs(radius)), np.float64)
