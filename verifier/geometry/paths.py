"""The ways of the moves of a trace, and what the edges of their tools pass over, made for many moves at once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from verifier.control import Kind, Trace
from verifier.geometry.place import Places
from verifier.geometry.section import Box, box_of
from verifier.geometry.sweep import path_points, swept_legs, swept_path
from verifier.geometry.tool_outline import Points, ToolOutline
from verifier.geometry.travel import rapid_bend
from verifier.machines import Machine

Rows = NDArray[np.int64]

_AT_ONCE = 256
"""So many moves are made together: more would keep more shapes in memory and gain no time."""
_LEAST = 8
_BENT_MOST = 20_000
"""So many paths of arcs are kept for another sweep at most: each holds some kilobytes."""


@dataclass(frozen=True, slots=True)
class Path:
    """The way of a move in (Z, R) and mm, what the edge of its tool passes over, and the box around that."""

    way: Points
    swept: shapely.Geometry
    box: Box


class Paths:
    """The paths of some moves (`rows`, ascending), each with a tool whose outline is known; asked for in order."""

    def __init__(
        self, trace: Trace, places: Places, machine: Machine, outlines: Mapping[int, ToolOutline | str], rows: Rows
    ) -> None:
        self._trace, self._places, self._machine = trace, places, machine
        self._edges = {station: found.edge for station, found in outlines.items() if isinstance(found, ToolOutline)}
        self._rows = rows
        self._made: dict[int, Path] = {}
        self._some, self._asked = _AT_ONCE, 0
        self._straight = machine.choice("rapid-path") == "straight"
        self.bent: dict[int, Path] = {}
        """The paths that are no straight lines and took long to make, by move."""

    def lend(self, bent: Mapping[int, Path]) -> None:
        """Paths of some of the moves, made by another sweep with the same tools."""
        self.bent.update(bent)

    def of(self, move: int) -> Path:
        """The path of one of the moves."""
        found = self._made.get(move)
        if found is None:
            first = int(np.searchsorted(self._rows, move))
            # Of moves that another sweep takes over few are asked for.
            self._some = min(max(2 * self._asked, _LEAST), _AT_ONCE) if self._made else self._some
            self._asked = 0
            self._made = self._make(self._rows[first : first + self._some])
            found = self._made[move]
        self._asked += 1
        return found

    def swept(self, moves: list[int]) -> list[tuple[shapely.Geometry, Box]]:
        """What the edges pass over on some of the moves, and the boxes around that."""
        made = self._make(np.array(moves, np.int64))
        return [(made[move].swept, made[move].box) for move in moves]

    def way(self, k: int) -> Points:
        """The way of any move: a line, chords along an arc, or a rapid with a bend."""
        start, end = self._places.start[k], self._places.end[k]
        kind = int(self._trace.moves.kind[k])
        if kind in (Kind.ARC_CW, Kind.ARC_CCW):
            return path_points(start, end, self._places.centre[k], clockwise_in_zr=kind == Kind.ARC_CW)
        if kind == Kind.RAPID and not self._straight:
            moves = self._trace.moves
            ends = (int(moves.x0[k]), int(moves.z0[k]), int(moves.x1[k]), int(moves.z1[k]))
            bend = rapid_bend(*ends, self._machine)
            if bend is not None:
                # Along Z and R from the start, so that a shifted frame plays no part.
                part_x, part_z = ((bend[i] - ends[i]) / ((ends[i + 2] - ends[i]) or 1) for i in (0, 1))
                turn = start + (end - start) * np.array([part_z, part_x])
                return np.array([start, turn, end])
        return np.array([start, end])

    def _make(self, rows: Rows) -> dict[int, Path]:
        made, ways, lines = {}, [], []
        for k in rows.tolist():
            path = self.bent.get(k)
            way = self.way(k) if path is None else path.way
            if path is None and len(way) > 2:
                path = self._bent(k, way)
            if path is None:
                ways.append(way)
                lines.append(k)
            else:
                made[k] = path
        return made | self._lines(np.array(lines, np.int64), ways)

    def _bent(self, k: int, way: Points) -> Path:
        swept = swept_path(self._edges[self._tool(k)], way)
        path = Path(way, swept, box_of(swept))
        if len(self.bent) < _BENT_MOST:
            self.bent[k] = path
        return path

    def _lines(self, rows: Rows, ways: list[Points]) -> dict[int, Path]:
        """The paths of straight moves."""
        swept = np.empty(len(rows), object)
        tools = np.array([self._tool(k) for k in rows.tolist()])
        for tool in np.unique(tools).tolist():
            some = tools == tool
            at = rows[some]
            swept[some] = swept_legs(self._edges[tool], self._places.start[at], self._places.end[at])
        boxes = [(z0, r0, z1, r1) for z0, r0, z1, r1 in shapely.bounds(swept).tolist()]
        return {k: Path(*made) for k, *made in zip(rows.tolist(), ways, swept, boxes, strict=True)}

    def _tool(self, k: int) -> int:
        tool = self._trace.states[int(self._trace.moves.state[k])].tool
        assert isinstance(tool, int)
        return tool
