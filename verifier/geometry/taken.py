"""How much moves took off, from the shapes of what they took: worked out for many moves at once, when the sweep has gone over them."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import pi

import numpy as np
import shapely
from numpy.typing import NDArray

from verifier.geometry.depth import greatest_depths

Floats = NDArray[np.float64]
Geometries = NDArray[np.object_]

_AT_ONCE = 512
"""So many moves are measured together: more would keep more shapes in memory and gain no time."""


@dataclass(slots=True)
class Taken:
    """Half sections of material by the move that took it, and the columns that they are measured into.

    A row of `columns` is a move: area mm2, volume mm3, the stretch across its way and the greatest depth of cut, mm.
    """

    columns: Floats
    _moves: list[int] = field(default_factory=list)
    _shapes: list[Geometries] = field(default_factory=list)
    _ways: list[tuple[float, float]] = field(default_factory=list)

    def add(self, move: int, shapes: Geometries, way: tuple[float, float]) -> None:
        """What a move took off, and its direction along Z and R."""
        self._moves.append(move)
        self._shapes.append(shapes)
        self._ways.append(way)
        if len(self._moves) >= _AT_ONCE:
            self.measure()

    def measure(self) -> None:
        """Fill the columns of every move that was added."""
        if not self._moves:
            return
        parts = np.concatenate(self._shapes)
        move = np.repeat(np.arange(len(self._moves)), [len(shapes) for shapes in self._shapes])
        self.columns[self._moves] = measures(parts, move, np.array(self._ways, np.float64))
        self._moves, self._shapes, self._ways = [], [], []


def measures(parts: Geometries, move: NDArray[np.int64], ways: Floats) -> Floats:
    """Area, volume, stretch across and greatest depth of what each move took off; `move` is the row of `ways` for each part, ascending."""
    count = len(ways)
    areas = shapely.area(parts)
    heights = shapely.get_y(shapely.centroid(parts))
    # By the theorem of Pappus: area times the way of its centroid about the centre line.
    turned = np.bincount(move, np.where(areas > 0, areas * heights, 0.0), count)
    depth = greatest_depths(parts, move, ways)
    return np.stack((np.bincount(move, areas, count), 2 * pi * turned, _across(parts, move, ways), depth), 1)


def _across(parts: Geometries, move: NDArray[np.int64], ways: Floats) -> Floats:
    """The stretch across its way of what each move took; lines along which it only touched something do not count."""
    pieces, part = shapely.get_parts(parts, return_index=True)
    solid = shapely.get_dimensions(pieces) == 2
    points, piece = shapely.get_coordinates(pieces[solid], return_index=True)
    row = move[part[solid][piece]]
    found, length = np.zeros(len(ways)), np.hypot(ways[:, 0], ways[:, 1])
    if not len(row):
        return found
    aside = points[:, 1] * ways[row, 0] - points[:, 0] * ways[row, 1]
    first = np.flatnonzero(np.diff(row, prepend=-1))
    found[row[first]] = np.maximum.reduceat(aside, first) - np.minimum.reduceat(aside, first)
    return np.asarray(np.where(length > 0, found / np.where(length > 0, length, 1.0), 0.0), np.float64)
