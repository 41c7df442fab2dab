"""The outline of a half section read as surfaces: cylinders, faces, slants and curves, in order round each piece.

Outlines run with the material on their left hand: outside toward the spindle, a front face away from the centre line.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import atan2, hypot, pi, radians

import numpy as np
import shapely

from verifier.geometry.section import CRUMB
from verifier.geometry.tool_outline import Points

CYLINDER, FLAT, SLANT, CURVE, AXIS = "cylinder", "flat", "slant", "curve", "axis"

STRAIGHT = 2e-6
_ON_CIRCLE = 0.0008
_LEAST_CHORDS = 3
_LONGEST_CHORD = 2.0
_CORNER = radians(20)
_SHORT = 0.005
_SHORTEST_SLANT = 0.05
"""Below this a slant is what chords leave at the end of a curve."""
_ALONG = (0.02, 0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 0.9, 0.98)
"""Where along a straight surface its places lie: more than one tool may have left it."""


@dataclass(frozen=True, slots=True, eq=False)
class Surface:
    """A stretch of an outline that one surface makes, its points (Z, R) in mm in the order of the outline.

    `radius` is that of a curve, else 0; `hollow` tells a curve that bends into the material. `raw`: it still is the stock's own surface.
    """

    kind: str
    points: Points
    radius: float = 0.0
    hollow: bool = False
    raw: bool = False

    @property
    def start(self) -> tuple[float, float]:
        """Its first point."""
        return float(self.points[0][0]), float(self.points[0][1])

    @property
    def end(self) -> tuple[float, float]:
        """Its last point."""
        return float(self.points[-1][0]), float(self.points[-1][1])

    @property
    def side(self) -> str:
        """Of a cylinder, slant or curve "outside" or "inside"; of a flat "front" (it looks away from the spindle) or "back"."""
        (z0, r0), (z1, r1) = self.start, self.end
        if self.kind == FLAT:
            return "front" if r1 > r0 else "back"
        return "outside" if z1 < z0 else "inside"

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Z from and to, radius from and to."""
        (z0, r0), (z1, r1) = self.points.min(axis=0).tolist(), self.points.max(axis=0).tolist()
        return z0, z1, r0, r1

    def samples(self) -> tuple[tuple[float, float], ...]:
        """Places that lie on it: the middles of its first, middle and last edge, and of a straight one several along it."""
        if len(self.points) == 2:
            ways = [self.points[0] + share * (self.points[1] - self.points[0]) for share in _ALONG]
        else:
            last = len(self.points) - 2
            ways = [(self.points[k] + self.points[k + 1]) / 2 for k in dict.fromkeys((0, last // 2, last))]
        return tuple((float(z), float(r)) for z, r in ways)


def outlines(left: shapely.Geometry, stock: shapely.Geometry) -> tuple[tuple[Surface, ...], ...]:
    """The surfaces of what is left of a stock, ring by ring, each in order round its piece."""
    raw = shapely.boundary(stock)
    return tuple(tuple(_of_ring(ring, raw)) for ring in _rings(left))


def pieces(left: shapely.Geometry) -> list[shapely.Geometry]:
    """The pieces of a half section without crumbs beside them."""
    found = [part for part in shapely.get_parts(left) if part.geom_type == "Polygon" and part.area > 1e-6]
    return [part for part in found if part.area > CRUMB] or found


def _rings(left: shapely.Geometry) -> Iterator[Points]:
    """Outlines with the material on their left hand, without points on straight lines."""
    for polygon in pieces(left):
        turned = shapely.orient_polygons(polygon) if hasattr(shapely, "orient_polygons") else shapely.normalize(polygon)
        for ring in (turned.exterior, *turned.interiors):
            points = shapely.get_coordinates(shapely.simplify(ring, STRAIGHT))[:-1]
            if len(points) >= 4 and _between(points[-1], points[0], points[1]):
                points = points[1:]  # Simplifying keeps the point where a ring begins.
            if len(points) >= 3:
                yield points


def _between(a: Points, b: Points, c: Points) -> bool:
    (ax, ay), (bx, by), (cx, cy) = (point.tolist() for point in (a, b, c))
    off = abs((cx - ax) * (by - ay) - (cy - ay) * (bx - ax))
    return bool(off <= STRAIGHT * hypot(cx - ax, cy - ay) and (bx - ax) * (cx - bx) + (by - ay) * (cy - by) > 0)


def _of_ring(points: Points, raw: shapely.Geometry) -> Iterator[Surface]:
    """The surfaces of one outline, beginning at a corner so that no curve is cut in two."""
    points = np.roll(points, -_corner(points), axis=0)
    points = np.concatenate((points, points[:1]))
    k = 0
    while k < len(points) - 1:
        last, circle = _curve(points, k)
        if circle is None:
            found = _straight(points[k : k + 2], raw)
            if found is not None:
                yield found
            k += 1
        else:
            yield Surface(CURVE, points[k : last + 1], circle, hollow=_hollow(points[k : last + 1]))
            k = last


def _corner(points: Points) -> int:
    """The start of the longest edge: a curve is made of short ones."""
    ways = np.roll(points, -1, axis=0) - points
    return int(np.argmax(np.hypot(ways[:, 0], ways[:, 1])))


def _hollow(points: Points) -> bool:
    """Whether a curve turns to the right, away from the material on its left."""
    (ax, ay), (bx, by), (cx, cy) = points[0].tolist(), points[len(points) // 2].tolist(), points[-1].tolist()
    return bool((bx - ax) * (cy - ay) - (by - ay) * (cx - ax) < 0)


def _curve(points: Points, k: int) -> tuple[int, float | None]:
    """The last point of a curve that begins at a point, and its radius; None where the outline goes straight on."""
    end = _smooth_to(points, k)
    last, radius = end, None
    while last - k >= _LEAST_CHORDS:
        radius = _radius(points[k : last + 1])
        if radius is not None:
            break
        last = k + (last - k) * 3 // 4
    if radius is None:
        return k, None
    while last < end and (longer := _radius(points[k : last + 2])) is not None:
        last, radius = last + 1, longer
    return last, radius


def _smooth_to(points: Points, k: int) -> int:
    """How far short edges follow each other without a corner."""
    last, heading = k, None
    while last + 1 < len(points):
        along, across = (points[last + 1] - points[last]).tolist()
        way = atan2(across, along)
        if hypot(along, across) > _LONGEST_CHORD:
            break
        if heading is not None and abs((way - heading + pi) % (2 * pi) - pi) > _CORNER:
            break
        last, heading = last + 1, way
    return last


def _radius(points: Points) -> float | None:
    """The radius of the circle on which these points lie, and of which the edges between them are chords; None where there is none."""
    circle = _circle(points[0], points[len(points) // 2], points[-1])
    if circle is None:
        return None
    x, y, radius = circle
    off = np.abs(np.hypot(points[:, 0] - x, points[:, 1] - y) - radius)
    ways = np.diff(points, axis=0)
    longest = float(np.hypot(ways[:, 0], ways[:, 1]).max())
    return radius if off.max() < _ON_CIRCLE and longest**2 / (8 * radius) < 3 * _ON_CIRCLE else None


def _circle(a: Points, b: Points, c: Points) -> tuple[float, float, float] | None:
    (ax, ay), (bx, by), (cx, cy) = (point.tolist() for point in (a, b, c))
    twice = 2 * ((bx - ax) * (cy - ay) - (by - ay) * (cx - ax))
    if abs(twice) < 1e-12:
        return None
    one, other = (bx - ax) ** 2 + (by - ay) ** 2, (cx - ax) ** 2 + (cy - ay) ** 2
    x = ax + (one * (cy - ay) - other * (by - ay)) / twice
    y = ay + (other * (bx - ax) - one * (cx - ax)) / twice
    return x, y, hypot(ax - x, ay - y)


def _straight(points: Points, raw: shapely.Geometry) -> Surface | None:
    """One edge as a surface; None where it is too short to be one."""
    along, across = (points[1] - points[0]).tolist()
    level, upright = abs(across) < STRAIGHT, abs(along) < STRAIGHT
    if hypot(along, across) < (_SHORT if level or upright else _SHORTEST_SLANT):
        return None
    if level and abs(float(points[0][1])) < STRAIGHT:
        return Surface(AXIS, points)
    kind = CYLINDER if level else FLAT if upright else SLANT
    middle = shapely.Point(*points.mean(axis=0).tolist())
    return Surface(kind, points, raw=bool(shapely.distance(raw, middle) < 1e-6))
