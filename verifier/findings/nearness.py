"""How near a place is to the cuts that were made before it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from verifier.control import TICKS_PER_MM, Trace


def distance_to_cuts(trace: Trace, rows: NDArray[np.int64], x: int, z: int) -> float | None:
    """The least distance in mm from a known place (X radius and Z in ticks) to the lines of these moves; None where none is known.

    Arcs count as their chord: the distance is never too small by more than the arc's height.
    """
    moves = trace.moves
    known = rows[(moves.bx0[rows] == 0) & (moves.bz0[rows] == 0) & (moves.bx1[rows] == 0) & (moves.bz1[rows] == 0)]
    if not len(known):
        return None
    ax, az = (column[known] / TICKS_PER_MM for column in (moves.x0, moves.z0))
    bx, bz = (column[known] / TICKS_PER_MM for column in (moves.x1, moves.z1))
    px, pz = x / TICKS_PER_MM, z / TICKS_PER_MM
    dx, dz = bx - ax, bz - az
    squared = dx * dx + dz * dz
    along = ((px - ax) * dx + (pz - az) * dz) / np.where(squared > 0, squared, 1)
    along = np.clip(along, 0, 1)
    return float(np.hypot(ax + along * dx - px, az + along * dz - pz).min())


def place_before(trace: Trace, at: int) -> tuple[int, int] | None:
    """Where the tool is after so many moves, in ticks; None where that is known to the machine only."""
    moves = trace.moves
    if not at or moves.bx1[at - 1] or moves.bz1[at - 1]:
        return None
    return int(moves.x1[at - 1]), int(moves.z1[at - 1])
