"""Which moves left the surfaces of a feature: those along whose swept edge places of it lie.

Only moves near a place are swept once more, the last of them first, so that the cost is that of a few moves for each feature.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from verifier.control import Kind, Trace
from verifier.geometry.features import Feature
from verifier.geometry.part import TurnedPart
from verifier.geometry.place import Places
from verifier.geometry.sweep import path_points, swept_path
from verifier.geometry.tool_outline import ToolOutline, tool_outline
from verifier.machines import Machine, Setup

_NEAR = 5e-5
"""How far a place may lie off the swept edge that left it, in mm: the rounding of floats and of taking straight edges together."""
_MOST = 400
"""So many moves near one place are looked at, the last first."""

Box = tuple[float, float, float, float]


def surface_moves(
    trace: Trace, machine: Machine, setup: Setup | None, part: TurnedPart, features: Sequence[Feature]
) -> tuple[tuple[int, ...], ...]:
    """For each feature of a part the moves that left it, in order; of a thread its passes. Empty where none is found."""
    if setup is None:
        return tuple(() for _ in features)
    moves = _Moves(trace, machine, setup, part)
    return tuple(moves.of(feature) for feature in features)


class _Moves:
    """The cutting moves of a trace that took something off, with the boxes that they sweep."""

    def __init__(self, trace: Trace, machine: Machine, setup: Setup, part: TurnedPart) -> None:
        self._trace = trace
        self._places = Places(trace, machine, setup)
        self._tools = {station: tool_outline(tool) for station, tool in setup.tools.items()}
        kind = trace.moves.kind
        straight_or_arc = (kind == Kind.FEED) | (kind == Kind.ARC_CW) | (kind == Kind.ARC_CCW)
        self._rows = np.flatnonzero((part.area > 0) & straight_or_arc)
        self._boxes = self._around(self._rows)
        self._edges: dict[int, shapely.Geometry | None] = {}

    def of(self, feature: Feature) -> tuple[int, ...]:
        """The moves that left a feature."""
        found = set(feature.moves)
        for place in feature.samples:
            owner = self._owner(*place)
            if owner is not None:
                found.add(owner)
        return tuple(sorted(found))

    def _owner(self, z: float, r: float) -> int | None:
        low_z, low_r, high_z, high_r = self._boxes.T
        near = (low_z - _NEAR <= z) & (z <= high_z + _NEAR) & (low_r - _NEAR <= r) & (r <= high_r + _NEAR)
        place = shapely.Point(z, r)
        for row in self._rows[near][::-1][:_MOST].tolist():
            edge = self._edge(row)
            if edge is not None and shapely.distance(edge, place) <= _NEAR:
                return int(row)
        return None

    def _edge(self, row: int) -> shapely.Geometry | None:
        """The outline of what a move sweeps."""
        if row not in self._edges:
            outline = self._outline(row)
            swept = None if outline is None else swept_path(outline.edge, self._way(row))
            self._edges[row] = None if swept is None else shapely.boundary(swept)
        return self._edges[row]

    def _outline(self, row: int) -> ToolOutline | None:
        station = self._trace.states[int(self._trace.moves.state[row])].tool
        found = self._tools.get(station) if isinstance(station, int) else None
        return found if isinstance(found, ToolOutline) else None

    def _way(self, row: int) -> NDArray[np.float64]:
        start, end, kind = self._places.start[row], self._places.end[row], int(self._trace.moves.kind[row])
        if kind == Kind.FEED:
            return np.array([start, end])
        return path_points(start, end, self._places.centre[row], clockwise_in_zr=kind == Kind.ARC_CW)

    def _around(self, rows: NDArray[np.int64]) -> NDArray[np.float64]:
        """The box that each of these moves sweeps: Z and radius from, Z and radius to."""
        places, kind = self._places, self._trace.moves.kind[rows]
        start, end = places.start[rows], places.end[rows]
        low, high = np.minimum(start, end), np.maximum(start, end)
        centre = places.centre[rows]
        radius = np.hypot(*(start - centre).T)[:, None]
        arc = (kind != Kind.FEED)[:, None]
        low = np.where(arc, np.minimum(low, centre - radius), low)
        high = np.where(arc, np.maximum(high, centre + radius), high)
        tools = np.array([self._tool_box(state.tool) for state in self._trace.states] or [(0.0,) * 4])
        around = tools[self._trace.moves.state[rows]]
        return np.hstack((low + around[:, :2], high + around[:, 2:]))

    def _tool_box(self, station: object) -> Box:
        found = self._tools.get(station) if isinstance(station, int) else None
        if not isinstance(found, ToolOutline):
            return 0.0, 0.0, 0.0, 0.0
        (z0, r0), (z1, r1) = found.edge.min(axis=0).tolist(), found.edge.max(axis=0).tolist()
        return z0, r0, z1, r1
