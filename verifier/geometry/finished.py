"""Which moves leave the finished surface behind them, and where that surface lies.

The nose of an insert leaves what it touches last. A move is told to finish where a place that its nose touched lies on the outline of what is left at
the end, and no later move has passed there again.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from verifier.control import Kind, Moves
from verifier.geometry.engagement import Edges
from verifier.geometry.place import Places

Floats = NDArray[np.float64]
Rows = NDArray[np.int64]

_AT = np.array([0.1, 0.3, 0.5, 0.7, 0.9])
_NEAR = 0.002
"""How far, in mm, a touched place may lie off the outline: chords of both are within a quarter of that."""


@dataclass(frozen=True, eq=False)
class Ways:
    """The paths of some moves in the plane (Z, R), mm: ends, and of arcs centre, radius and the angle turned (signed, 0 for a line)."""

    start: Floats
    end: Floats
    centre: Floats
    radius: Floats
    turn: Floats

    @property
    def length(self) -> Floats:
        """The length of each path."""
        return np.where(self.turn != 0, self.radius * np.abs(self.turn), np.hypot(*(self.end - self.start).T))

    def at(self, share: float) -> tuple[Floats, Floats]:
        """The place at a share of each path, and the unit direction there (0, 0 for a path of no length)."""
        way = self.end - self.start
        length = np.hypot(*way.T)[:, None]
        line = np.where(length > 0, way / np.where(length > 0, length, 1.0), 0.0)
        out = self.start - self.centre
        angle = (self.turn * share)[:, None]
        cos, sin = np.cos(angle), np.sin(angle)
        turned = np.hstack((out[:, :1] * cos - out[:, 1:] * sin, out[:, :1] * sin + out[:, 1:] * cos))
        sense = np.sign(self.turn)[:, None]
        along = np.hstack((-turned[:, 1:], turned[:, :1])) * sense
        along /= np.where(self.radius > 0, self.radius, 1.0)[:, None]
        curved = (self.turn != 0)[:, None]
        return np.where(curved, self.centre + turned, self.start + share * way), np.where(curved, along, line)


def ways_of(moves: Moves, places: Places, rows: Rows) -> Ways:
    """The paths of these moves on the sheet."""
    start, end = places.start[rows], places.end[rows]
    kind = moves.kind[rows]
    arcs = (kind == Kind.ARC_CW) | (kind == Kind.ARC_CCW)
    centre = np.where(arcs[:, None], places.centre[rows], 0.0)
    out, last = start - centre, end - centre
    angle = np.arctan2(last[:, 1], last[:, 0]) - np.arctan2(out[:, 1], out[:, 0])
    # As seen with Z to the right and R upward, a G02 turns clockwise: from +Z to -R.
    sense = np.where(kind == Kind.ARC_CW, -1.0, 1.0)
    turn = np.mod(angle * sense, 2 * np.pi)
    turn = np.where((start == end).all(axis=1), 2 * np.pi, turn) * sense
    return Ways(start, end, centre, np.where(arcs, np.hypot(*out.T), 0.0), np.where(arcs, turn, 0.0))


@dataclass(frozen=True, eq=False)
class Surface:
    """For each move whether it leaves finished surface; NaN or where that is: the radius of a cylinder, the Z of a face (mm)."""

    leaves: NDArray[np.bool_]
    radius: Floats
    face: Floats


def finished_surface(
    ways: Ways, noses: Floats, offsets: Floats, wanted: NDArray[np.bool_], left: shapely.Geometry
) -> Surface:
    """The moves (rows of `ways`, in order) that leave finished surface; `wanted` are those whose nose can."""
    count = len(wanted)
    found = Surface(np.zeros(count, np.bool_), np.full(count, np.nan), np.full(count, np.nan))
    rows = np.flatnonzero(wanted & (ways.length > 0))
    if not len(rows) or left.is_empty:
        return found
    one = Ways(ways.start[rows], ways.end[rows], ways.centre[rows], ways.radius[rows], ways.turn[rows])
    touched = _touched(one, noses[rows], offsets[rows])
    on = _on_outline(touched, left)
    last = _touched_last(touched, on)
    leaves = last.any(axis=(1, 2))
    found.leaves[rows] = leaves
    side = np.where(last[:, :, 0].any(axis=1), 0, 1)
    place = np.take_along_axis(touched[:, len(_AT) // 2], side[:, None, None], 1)[:, 0]
    straight, along = one.turn == 0, np.abs(one.end - one.start)
    found.radius[rows] = np.where(leaves & straight & (along[:, 1] < 1e-6), place[:, 1], np.nan)
    found.face[rows] = np.where(leaves & straight & (along[:, 0] < 1e-6), place[:, 0], np.nan)
    return found


def _touched(ways: Ways, noses: Floats, offsets: Floats) -> Floats:
    """Places on both sides of the nose at several shares of each path: moves x shares x sides x (Z, R)."""
    sides = []
    for share in _AT:
        place, way = ways.at(float(share))
        normal = np.stack((-way[:, 1], way[:, 0]), 1) * noses[:, None]
        sides.append(np.stack((place + offsets + normal, place + offsets - normal), 1))
    return np.stack(sides, 1)


def _on_outline(touched: Floats, left: shapely.Geometry) -> NDArray[np.bool_]:
    outline = shapely.boundary(left)
    shapely.prepare(outline)
    # Both sides of an own feed line at once; what is inside the box around the piece is asked first, which is cheap.
    z0, r0, z1, r1 = shapely.bounds(left).tolist()
    flat = touched.reshape(-1, 2)
    near = (flat[:, 0] > z0 - _NEAR) & (flat[:, 0] < z1 + _NEAR) & (flat[:, 1] < r1 + _NEAR) & (flat[:, 1] > r0 - _NEAR)
    found = np.zeros(len(flat), np.bool_)
    found[near] = shapely.dwithin(outline, shapely.points(flat[near]), _NEAR)
    return found.reshape(touched.shape[:3])


def _touched_last(touched: Floats, on: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Of the places on the outline those that no later move passes."""
    which = np.argwhere(on.any(axis=1))
    if not len(which):
        return on
    lines = shapely.linestrings(touched[which[:, 0], :, which[:, 1]])
    tree = shapely.STRtree(lines)
    asked = np.argwhere(on)
    point, line = tree.query(shapely.points(touched[on]), predicate="dwithin", distance=2 * _NEAR)
    latest = np.full(len(asked), -1, np.int64)
    np.maximum.at(latest, point, which[line, 0])
    found = np.zeros_like(on)
    found[tuple(asked.T)] = latest <= asked[:, 0]
    return found


def nose_columns(tools: list[Edges | None], states: NDArray[np.int32]) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """For each move its nose radius, the way from the programmed point to the nose's centre, and whether its nose can leave a surface."""
    known = [tool if tool is not None and tool.rounds else None for tool in tools]
    noses = np.array([tool.nose if tool else 0.0 for tool in known] or [0.0])
    offsets = np.array([tool.offset if tool else (0.0, 0.0) for tool in known] or [(0.0, 0.0)])
    return noses[states], offsets[states], noses[states] > 0
