"""The ways of the moves of a trace, and what the edges of their tools pass over, made for many moves at once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from verifier.control import Kind, Trace
from verifier.geometry.place import Places
from verifier.geometry.section import Box
from verifier.geometry.sweep import path_points, swept_legs, swept_path
from verifier.geometry.tool_outline import Points, ToolOutline
from verifier.geometry.travel import rapid_bend
from verifier.machines import Machine

Rows = NDArray[np.int64]

_AT_ONCE = 256
"""So many moves are made together: more would keep more shapes in memory and gain no time."""
_LEAST = 8


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
        ways = [self.way(k) for k in rows.tolist()]
        states = self._trace.states
        tools = [states[index].tool for index in self._trace.moves.state[rows].tolist()]
        swept = np.empty(len(rows), object)
        lines: dict[object, list[int]] = {}
        for i, (way, tool) in enumerate(zip(ways, tools, strict=True)):
            assert isinstance(tool, int)
            if len(way) == 2:
                lines.setdefault(tool, []).append(i)
            else:
                swept[i] = swept_path(self._edges[tool], way)
        for tool, some in lines.items():
            assert isinstance(tool, int)
            at = rows[some]
            swept[some] = swept_legs(self._edges[tool], self._places.start[at], self._places.end[at])
        boxes = [(z0, r0, z1, r1) for z0, r0, z1, r1 in shapely.bounds(swept).tolist()]
        return {k: Path(*made) for k, *made in zip(rows.tolist(), ways, swept, boxes, strict=True)}
