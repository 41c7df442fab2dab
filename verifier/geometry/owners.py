"""Which moves left the surfaces of a feature: those at a feed whose edge touched it on its way.

A place that is still there at the end was only touched by an edge: seen from the tool it runs the way of the move backward, and meets the outline of
the edge. All moves that touch it are told, the one that took the material off and each that passes there again.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from verifier.control import Kind, Trace
from verifier.geometry.features import Feature
from verifier.geometry.place import Places
from verifier.geometry.sweep import path_points
from verifier.geometry.tool_outline import Points, ToolOutline, tool_outline
from verifier.machines import Machine, Setup

_NEAR = 5e-5
"""How far a place may lie off the edge that left it, in mm: the rounding of floats and of taking straight edges together."""
_MOST = 400
"""So many moves near one place are looked at, the last ones."""

Rows = NDArray[np.int64]


def surface_moves(
    trace: Trace, machine: Machine, setup: Setup | None, features: Sequence[Feature]
) -> tuple[tuple[int, ...], ...]:
    """For each feature of a part the moves that touched it, in order; of a thread its passes, too. Empty where none is found."""
    if setup is None:
        return tuple(() for _ in features)
    moves = _Moves(trace, machine, setup)
    return tuple(moves.of(feature) for feature in features)


class _Moves:
    """The moves of a trace that can cut, with the boxes that their edges sweep."""

    def __init__(self, trace: Trace, machine: Machine, setup: Setup) -> None:
        self._kind = trace.moves.kind
        self._places = Places(trace, machine, setup)
        outlines = {station: tool_outline(tool) for station, tool in setup.tools.items()}
        self._edges = {station: found.edge for station, found in outlines.items() if isinstance(found, ToolOutline)}
        self._areas = {station: shapely.polygons(edge) for station, edge in self._edges.items()}
        stations = [s.tool if isinstance(s.tool, int) and s.tool in self._edges else -1 for s in trace.states]
        self._station = np.array(stations or [-1], np.int64)[trace.moves.state]
        cuts = (self._kind == Kind.FEED) | (self._kind == Kind.ARC_CW) | (self._kind == Kind.ARC_CCW)
        placed = np.array([not why for why in self._places.why], np.bool_)
        rows = np.flatnonzero(cuts & placed & (self._station >= 0))
        self._rows = rows[rows < trace.first_pass]
        self._boxes = self._around(self._rows)

    def of(self, feature: Feature) -> tuple[int, ...]:
        """The moves that touched a feature."""
        found = set(feature.moves)
        for z, r in feature.samples:
            # What is cut beyond the centre line is the same surface.
            for place in (np.array([z, r]), np.array([z, -r])):
                near = self._near(place)
                found.update(near[self._touched(near, place)].tolist())
        return tuple(sorted(found))

    def _near(self, place: Points) -> Rows:
        low, high = self._boxes[:, :2] - _NEAR, self._boxes[:, 2:] + _NEAR
        return self._rows[((low <= place) & (place <= high)).all(axis=1)][-_MOST:]

    def _touched(self, rows: Rows, place: Points) -> NDArray[np.bool_]:
        """Which of these moves touch a place."""
        ways = np.array([self._way(row, place) for row in rows.tolist()], object)
        areas = np.array([self._areas[station] for station in self._station[rows].tolist()], object)
        return np.asarray(shapely.dwithin(areas, ways, _NEAR), np.bool_) if len(rows) else np.zeros(0, np.bool_)

    def _way(self, row: int, place: Points) -> shapely.Geometry:
        """How a place runs past the tool during a move."""
        start, end, kind = self._places.start[row], self._places.end[row], int(self._kind[row])
        if kind == Kind.FEED:
            return shapely.linestrings(place - np.array([start, end]))
        clockwise = kind == Kind.ARC_CW
        return shapely.linestrings(place - path_points(start, end, self._places.centre[row], clockwise_in_zr=clockwise))

    def _around(self, rows: Rows) -> NDArray[np.float64]:
        """The box that each of these moves sweeps: Z and radius from, Z and radius to."""
        start, end, centre = (one[rows] for one in (self._places.start, self._places.end, self._places.centre))
        low, high = np.minimum(start, end), np.maximum(start, end)
        radius = np.hypot(*(start - centre).T)[:, None]
        arc = (self._kind[rows] != Kind.FEED)[:, None]
        low = np.where(arc, np.minimum(low, centre - radius), low)
        high = np.where(arc, np.maximum(high, centre + radius), high)
        edges = [self._edges[station] for station in self._station[rows].tolist()]
        least = np.array([edge.min(axis=0) for edge in edges] or np.zeros((0, 2)))
        most = np.array([edge.max(axis=0) for edge in edges] or np.zeros((0, 2)))
        return np.hstack((low + least, high + most))
