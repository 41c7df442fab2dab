"""Chains of legs from short lists of points, and the offset path as curves: what the tests of compensation share."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import NamedTuple

from verifier.control.compensation import LEFT, RIGHT, Leg, Offset, Role, Tip, Ways, compensate
from verifier.control.strokes import Kind, Point

MM = 100_000_000
CENTRE = 0
"""The nose direction of a path told at the nose centre."""


class To(NamedTuple):
    """A move to Z and X (radius) in mm: straight, or an arc with its sense (1 counterclockwise) about a centre."""

    z: float
    x: float
    sense: int = 0
    centre_z: float = 0.0
    centre_x: float = 0.0
    rapid: bool = False


def point(z: float, x: float) -> Point:
    return Point(x=round(x * MM), z=round(z * MM))


def legs(points: Sequence[To], side: int, *, entry: bool = True, leave: bool = True) -> list[Leg]:
    """The way through the points: the first move is the entry, the last one the exit where they are asked for."""
    made = []
    for k, (here, there) in enumerate(pairwise(points)):
        role = Role.CONTOUR
        if entry and k == 0:
            role = Role.ENTRY
        elif leave and k == len(points) - 2:
            role = Role.EXIT
        kind = Kind.RAPID if there.rapid else {1: Kind.ARC_CCW, -1: Kind.ARC_CW}.get(there.sense, Kind.FEED)
        centre = point(there.centre_z, there.centre_x) if there.sense else None
        made.append(Leg(kind, point(here.z, here.x), point(there.z, there.x), centre, role, side))
    return made


def offset(
    points: Sequence[To],
    radius: float,
    side: int = RIGHT,
    *,
    orientation: int = CENTRE,
    ways: Ways | None = None,
    entry: bool = True,
    leave: bool = True,
) -> Offset:
    chain = legs(points, side, entry=entry, leave=leave)
    return compensate(chain, Tip.of(round(radius * MM), orientation), ways or Ways())


def ends(found: Offset) -> list[list[tuple[float, float]]]:
    """For each leg where its pieces end: Z and X in mm."""
    return [[(piece.end.z / MM, piece.end.x / MM) for piece in pieces] for pieces in found.pieces]


def drawn(
    start: Point, pieces: Iterable[tuple[Kind, Point, Point | None]], step: float = 0.2
) -> list[tuple[float, float]]:
    """A path as points in ticks (Z, X), arcs by chords of `step` degrees."""
    line = [(float(start.z), float(start.x))]
    for kind, end, centre in pieces:
        if centre is not None and kind.arc:
            line += _arc(line[-1], (float(end.z), float(end.x)), centre, kind, step)
        line.append((float(end.z), float(end.x)))
    return line


def _arc(
    start: tuple[float, float], end: tuple[float, float], centre: Point, kind: Kind, step: float
) -> list[tuple[float, float]]:
    first, last = (math.atan2(p[1] - centre.x, p[0] - centre.z) for p in (start, end))
    radius = math.hypot(start[0] - centre.z, start[1] - centre.x)
    sense = 1 if kind is Kind.ARC_CCW else -1
    sweep = (last - first) * sense % math.tau or math.tau
    count = max(2, math.ceil(math.degrees(sweep) / step))
    angles = [first + sense * sweep * k / count for k in range(1, count)]
    return [(centre.z + radius * math.cos(a), centre.x + radius * math.sin(a)) for a in angles]


__all__ = ["CENTRE", "LEFT", "MM", "RIGHT", "To", "drawn", "ends", "legs", "offset", "point"]
