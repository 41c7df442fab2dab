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
    return _Moves(trace, machine, setup).of(features)


class _Moves:
    """The moves of a trace that can cut, with the boxes that their edges sweep."""

    def __init__(self, trace: Trace, machine: Machine, setup: Setup) -> None:
        self._kind = trace.moves.kind
        self._places = Places(trace, machine, setup)
        outlines = {station: tool_outline(tool) for station, tool in setup.tools.items()}
        self._edges = {station: found.edge for station, found in outlines.items() if isinstance(found, ToolOutline)}
        self._areas = np.full(max(self._edges, default=0) + 1, None, object)
        for station, edge in self._edges.items():
            self._areas[station] = shapely.polygons(edge)
        shapely.prepare(self._areas)
        stations = [s.tool if isinstance(s.tool, int) and s.tool in self._edges else -1 for s in trace.states]
        self._station = np.array(stations or [-1], np.int64)[trace.moves.state]
        cuts = (self._kind == Kind.FEED) | (self._kind == Kind.ARC_CW) | (self._kind == Kind.ARC_CCW)
        placed = np.array([not why for why in self._places.why], np.bool_)
        rows = np.flatnonzero(cuts & placed & (self._station >= 0))
        self._rows = rows[rows < trace.first_pass]
        low, high = np.hsplit(self._around(self._rows), 2)
        self._low, self._high = low - _NEAR, high + _NEAR
        self._arcs: dict[int, Points] = {}

    def of(self, features: Sequence[Feature]) -> tuple[tuple[int, ...], ...]:
        """The moves that touched each of these features."""
        found = [set(feature.moves) for feature in features]
        samples = [(k, *place) for k, feature in enumerate(features) for place in feature.samples]
        if samples:
            owner, z, r = (np.array(column) for column in zip(*samples, strict=True))
            # What is cut beyond the centre line is the same surface.
            places, owner = np.stack((np.tile(z, 2), np.concatenate((r, -r))), 1), np.tile(owner, 2)
            at, rows = self._near(places)
            touched = self._touched(rows, places[at])
            for k, row in zip(owner[at[touched]].tolist(), rows[touched].tolist(), strict=True):
                found[k].add(row)
        return tuple(tuple(sorted(rows)) for rows in found)

    def _near(self, places: Points) -> tuple[Rows, Rows]:
        """Places, and moves that come near them: of each place the last ones."""
        tree = shapely.STRtree(shapely.box(*self._low.T - _NEAR, *self._high.T + _NEAR))
        at, box = tree.query(shapely.points(places))
        inside = ((self._low[box] <= places[at]) & (places[at] <= self._high[box])).all(axis=1)
        at, box = at[inside], box[inside]
        order = np.lexsort((box, at))
        at, box = at[order], box[order]
        behind = np.searchsorted(at, at, "right") - np.arange(len(at))
        last = behind <= _MOST
        return at[last], self._rows[box[last]]

    def _touched(self, rows: Rows, places: Points) -> NDArray[np.bool_]:
        """Which of these moves touch the place beside them: it runs past the tool the way of the move backward."""
        straight = self._kind[rows] == Kind.FEED
        ways = np.empty(len(rows), object)
        ends = np.stack((self._places.start[rows[straight]], self._places.end[rows[straight]]), 1)
        ways[straight] = shapely.linestrings(places[straight][:, None] - ends)
        arcs = [self._arc(row) for row in rows[~straight].tolist()]
        if arcs:
            leg = np.repeat(np.arange(len(arcs)), [len(arc) for arc in arcs])
            ways[~straight] = shapely.linestrings(places[~straight][leg] - np.concatenate(arcs), indices=leg)
        return np.asarray(shapely.dwithin(self._areas[self._station[rows]], ways, _NEAR), np.bool_)

    def _arc(self, row: int) -> Points:
        """The points along a move round a centre."""
        if row not in self._arcs:
            ends = self._places.start[row], self._places.end[row], self._places.centre[row]
            self._arcs[row] = path_points(*ends, clockwise_in_zr=int(self._kind[row]) == Kind.ARC_CW)
        return self._arcs[row]

    def _around(self, rows: Rows) -> NDArray[np.float64]:
        """The box that each of these moves sweeps: Z and radius from, Z and radius to."""
        start, end, centre = (one[rows] for one in (self._places.start, self._places.end, self._places.centre))
        low, high = np.minimum(start, end), np.maximum(start, end)
        radius = np.hypot(*(start - centre).T)[:, None]
        arc = (self._kind[rows] != Kind.FEED)[:, None]
        low = np.where(arc, np.minimum(low, centre - radius), low)
        high = np.where(arc, np.maximum(high, centre + radius), high)
        least, most = np.zeros((2, len(self._areas), 2))
        for station, edge in self._edges.items():
            least[station], most[station] = edge.min(axis=0), edge.max(axis=0)
        at = self._station[rows]
        return np.hstack((low + least[at], high + most[at]))
