"""Which moves of a trace come near the piece or a keep-out, by boxes around what their tools pass over."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from verifier.control import Kind, Trace
from verifier.geometry.place import Places
from verifier.geometry.tool_outline import ToolOutline
from verifier.geometry.turret import TurretRoom

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Nearby:
    """By move: whether it comes near, whether a neighbour of its tool may, and the stretch of Z (mm) that its tool passes over, holder and all."""

    near: NDArray[np.bool_]
    beside: NDArray[np.bool_]
    stretch: Floats


def nearby(
    trace: Trace, places: Places, outlines: Mapping[int, ToolOutline | str], room: TurretRoom, reach: Floats
) -> Nearby:
    """Moves whose box, with their tool around it, reaches the box around piece and keep-outs (`reach`)."""
    moves = trace.moves
    low, high = np.minimum(places.start, places.end), np.maximum(places.start, places.end)
    arcs = (moves.kind == Kind.ARC_CW) | (moves.kind == Kind.ARC_CCW)
    radius = np.hypot(*(places.start - places.centre).T)[:, None]
    low = np.where(arcs[:, None], np.minimum(low, places.centre - radius), low)
    high = np.where(arcs[:, None], np.maximum(high, places.centre + radius), high)
    boxes = np.zeros((len(trace.states) or 1, 4))
    for index, state in enumerate(trace.states):
        outline = outlines.get(state.tool) if isinstance(state.tool, int) else None
        if isinstance(outline, ToolOutline):
            points = np.concatenate((outline.edge, *outline.bodies))
            boxes[index] = (*points.min(axis=0), *points.max(axis=0))
        else:
            boxes[index] = (0, 0, 0, 0)
    around = boxes[moves.state] if len(moves) else np.zeros((0, 4))
    z0, r0, z1, r1 = reach
    tools = [state.tool for state in trace.states]
    beside = room.near([tools[k] for k in moves.state.tolist()], low, high, (z0, r0, z1, r1))
    low, high = low + around[:, :2], high + around[:, 2:]
    # What reaches across the centre line meets the other side of the piece.
    high[:, 1] = np.maximum(high[:, 1], -low[:, 1])
    near = (low[:, 0] < z1) & (high[:, 0] > z0) & (low[:, 1] < r1) & (high[:, 1] > r0)
    return Nearby(np.asarray(near, np.bool_), beside, np.stack((low[:, 0], high[:, 0]), 1))


def known(trace: Trace, places: Places, outlines: Mapping[int, ToolOutline | str]) -> NDArray[np.bool_]:
    """Moves of a tool with an outline, on a way that has a place on the sheet."""
    tools = [isinstance(s.tool, int) and isinstance(outlines.get(s.tool), ToolOutline) for s in trace.states]
    placed = np.array([not why for why in places.why] or [False], np.bool_)
    return np.asarray(np.array(tools or [False], np.bool_)[trace.moves.state] & placed[: len(trace.moves)])
