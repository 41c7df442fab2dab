"""The outline of a half section read as surfaces: cylinders, faces, slants and curves, in order round each piece.

Outlines run with the material on their left hand: outside toward the spindle, a front face away from the centre line.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
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


Place = tuple[float, float]


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
        z, r = self.points[0].tolist()
        return z, r

    @property
    def end(self) -> tuple[float, float]:
        """Its last point."""
        z, r = self.points[-1].tolist()
        return z, r

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
        zs, rs = zip(*self.points.tolist(), strict=True)
        return min(zs), max(zs), min(rs), max(rs)

    def samples(self) -> tuple[tuple[float, float], ...]:
        """Places that lie on it: the middles of its first, middle and last edge, and of a straight one several along it."""
        places: list[tuple[float, float]] = self.points.tolist()
        if len(places) == 2:
            (z0, r0), (z1, r1) = places
            return tuple((z0 + share * (z1 - z0), r0 + share * (r1 - r0)) for share in _ALONG)
        last = len(places) - 2
        edges = [(places[k], places[k + 1]) for k in dict.fromkeys((0, last // 2, last))]
        return tuple(((z0 + z1) / 2, (r0 + r1) / 2) for (z0, r0), (z1, r1) in edges)


Read = dict[bytes, tuple["Surface", ...]]
"""The surfaces of stretches of outlines that were read before, by their points."""


def outlines(
    left: shapely.Geometry, stock: shapely.Geometry, read: Read | None = None
) -> tuple[tuple[Surface, ...], ...]:
    """The surfaces of what is left of a stock, ring by ring, each in order round its piece.

    `read` is what outlines of other parts were read as: their equal stretches are not read again, and what is read is added.
    """
    raw, known = shapely.boundary(stock), {} if read is None else read
    return tuple(_of_ring(ring, raw, known) for ring in _rings(left))


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


def _of_ring(points: Points, raw: shapely.Geometry, read: Read) -> tuple[Surface, ...]:
    """The surfaces of one outline, beginning at a corner so that no curve is cut in two."""
    points = np.roll(points, -_corner(points), axis=0)
    points = np.concatenate((points, points[:1]))
    found: list[Surface] = []
    for first, last in pairwise(_corners(points)):
        stretch = points[first : last + 1]
        key = stretch.tobytes()
        if key not in read:
            read[key] = tuple(_of_stretch(stretch))
        found += read[key]
    return tuple(_marked_raw(found, raw))


def _marked_raw(found: Sequence[Surface], raw: shapely.Geometry) -> Iterator[Surface]:
    """The surfaces, those that still are the stock's own marked so."""
    edges = [k for k, surface in enumerate(found) if surface.kind in (CYLINDER, FLAT, SLANT)]
    middles = np.array([found[k].points for k in edges]).reshape(-1, 2, 2).mean(axis=1)
    still = dict(zip(edges, (shapely.distance(raw, shapely.points(middles)) < 1e-6).tolist(), strict=True))
    return (replace(surface, raw=True) if still.get(k) else surface for k, surface in enumerate(found))


def _corner(points: Points) -> int:
    """The start of the longest edge: a curve is made of short ones."""
    ways = np.roll(points, -1, axis=0) - points
    return int(np.argmax(np.hypot(ways[:, 0], ways[:, 1])))


def _corners(points: Points) -> list[int]:
    """The points between which a curve can run: the ends, those at which the outline turns, and both ends of every edge that is no chord."""
    ways = np.diff(points, axis=0).tolist()
    heading = [atan2(across, along) for along, across in ways]
    long = [hypot(along, across) > _LONGEST_CHORD for along, across in ways]
    turns = [abs((way - before + pi) % (2 * pi) - pi) > _CORNER for before, way in pairwise(heading)]
    between = [k for k, turn in enumerate(turns, 1) if turn or long[k - 1] or long[k]]
    return [0, *between, len(ways)]


def _of_stretch(points: Points) -> Iterator[Surface]:
    """The surfaces of a stretch of outline without a corner in it."""
    stretch, k = _Stretch(points), 0
    while k < len(points) - 1:
        last, circle = stretch.curve(k)
        if circle is None:
            found = _straight(points[k : k + 2])
            if found is not None:
                yield found
            k += 1
        else:
            yield Surface(CURVE, points[k : last + 1], circle, hollow=_hollow(points[k : last + 1]))
            k = last


def _hollow(points: Points) -> bool:
    """Whether a curve turns to the right, away from the material on its left."""
    (ax, ay), (bx, by), (cx, cy) = points[0].tolist(), points[len(points) // 2].tolist(), points[-1].tolist()
    return bool((bx - ax) * (cy - ay) - (by - ay) * (cx - ax) < 0)


class _Stretch:
    """A stretch of outline without a corner in it, and the circles that go through its points."""

    def __init__(self, points: Points) -> None:
        self._points, self._places = points, points.tolist()
        ways = np.diff(points, axis=0)
        self._chords = np.hypot(ways[:, 0], ways[:, 1]).tolist()

    def curve(self, k: int) -> tuple[int, float | None]:
        """The last point of a curve that begins at a point, and its radius; None where the outline goes straight on."""
        end = len(self._chords)
        last, radius = end, None
        while last - k >= _LEAST_CHORDS:
            radius = self._radius(k, last)
            if radius is not None:
                break
            last = k + (last - k) * 3 // 4
        if radius is None:
            return k, None
        while last < end and (longer := self._radius(k, last + 1)) is not None:
            last, radius = last + 1, longer
        return last, radius

    def _radius(self, first: int, last: int) -> float | None:
        """The radius of the circle on which these points lie, and of which the edges between them are chords; None where there is none."""
        circle = _circle(*(self._places[k] for k in (first, first + (last + 1 - first) // 2, last)))
        if circle is None:
            return None
        x, y, radius = circle
        if max(self._chords[first:last]) ** 2 / (8 * radius) >= 3 * _ON_CIRCLE:
            return None
        points = self._points[first : last + 1]
        off = np.abs(np.hypot(points[:, 0] - x, points[:, 1] - y) - radius)
        return radius if off.max() < _ON_CIRCLE else None


def _circle(a: Place, b: Place, c: Place) -> tuple[float, float, float] | None:
    (ax, ay), (bx, by), (cx, cy) = a, b, c
    twice = 2 * ((bx - ax) * (cy - ay) - (by - ay) * (cx - ax))
    if abs(twice) < 1e-12:
        return None
    one, other = (bx - ax) ** 2 + (by - ay) ** 2, (cx - ax) ** 2 + (cy - ay) ** 2
    x = ax + (one * (cy - ay) - other * (by - ay)) / twice
    y = ay + (other * (bx - ax) - one * (cx - ax)) / twice
    return x, y, hypot(ax - x, ay - y)


def _straight(points: Points) -> Surface | None:
    """One edge as a surface; None where it is too short to be one."""
    (z0, r0), (z1, r1) = points.tolist()
    along, across = z1 - z0, r1 - r0
    level, upright = abs(across) < STRAIGHT, abs(along) < STRAIGHT
    if hypot(along, across) < (_SHORT if level or upright else _SHORTEST_SLANT):
        return None
    if level and abs(r0) < STRAIGHT:
        return Surface(AXIS, points)
    return Surface(CYLINDER if level else FLAT if upright else SLANT, points)
