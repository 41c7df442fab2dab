"""What a polygon passes over when it moves along a straight line or an arc, in (Z, R) and millimetres."""

from __future__ import annotations

import itertools
from math import acos, ceil, pi

import numpy as np
import shapely
from numpy.typing import NDArray

from verifier.geometry.tool_outline import CHORD, Points

Rings = list[Points]


def swept_lines(edge: Points, points: Points) -> Rings:
    """A convex anticlockwise polygon moved straight from point to point, a ring for each leg.

    Seen along the way, the polygon's front half runs anticlockwise from its rightmost to its leftmost corner: that half ends at the end, the other
    half stays at the start, and the two straight lines between them are what those two corners draw. Nothing is rounded.
    """
    ways = np.diff(points, axis=0)
    across = np.outer(ways[:, 0], edge[:, 1]) - np.outer(ways[:, 1], edge[:, 0])
    left, right = across.argmax(axis=1).tolist(), across.argmin(axis=1).tolist()
    rings = []
    for k, way in enumerate(ways.tolist()):
        start, end = points[k], points[k + 1]
        if way == [0.0, 0.0]:
            rings.append(edge + start)
            continue
        front, back = _between(edge, right[k], left[k]), _between(edge, left[k], right[k])
        rings.append(np.concatenate((front + end, back + start)))
    return rings


def _between(edge: Points, first: int, last: int) -> Points:
    """The corners from one to another, both included, going round."""
    return edge[first : last + 1] if first <= last else np.concatenate((edge[first:], edge[: last + 1]))


def path_points(start: Points, end: Points, centre: Points, *, clockwise_in_zr: bool) -> Points:
    """Points along an arc with chords within `CHORD`, both ends exactly."""
    out = start - centre
    last = end - centre
    radius = float(np.hypot(*out))
    first = float(np.arctan2(out[1], out[0]))
    turn = float(np.arctan2(last[1], last[0])) - first
    turn = 2 * pi if bool((start == end).all()) else turn % (2 * pi)
    if clockwise_in_zr:
        turn = turn - 2 * pi if turn < 2 * pi else -2 * pi
    step = 2 * acos(max(1 - CHORD / max(radius, CHORD), -1.0))
    angles = first + np.linspace(0, turn, max(ceil(abs(turn) / step), 1) + 1)
    # The radius at both ends may differ by the rounding of the program's own numbers.
    radii = np.linspace(radius, float(np.hypot(*last)), len(angles))
    points = centre + np.stack((np.cos(angles), np.sin(angles)), 1) * radii[:, None]
    points[0], points[-1] = start, end
    return np.asarray(points, np.float64)


def swept_path(edge: Points, points: Points) -> shapely.Geometry:
    """A convex polygon moved along a row of points."""
    rings = swept_lines(edge, points)
    if len(rings) == 1:
        return shapely.polygons(rings[0])
    return united(polygons(rings))


def united(parts: NDArray[np.object_]) -> shapely.Geometry:
    """The union of polygons; where floats fail it, once more on a grid of a nanometre."""
    try:
        return shapely.union_all(parts)
    except shapely.GEOSException:
        return shapely.union_all(shapely.make_valid(parts), grid_size=1e-6)


def polygons(rings: Rings) -> NDArray[np.object_]:
    """Rings as polygons, made in one go."""
    lengths = [len(ring) for ring in rings]
    which = np.repeat(np.arange(len(rings)), lengths)
    lines = shapely.linearrings(np.concatenate(rings), indices=which)
    return np.asarray(shapely.polygons(lines), np.object_)


def swept_body(body: Points, points: Points) -> shapely.Geometry:
    """Any polygon moved along a row of points: what its edges pass over, and itself at each end."""
    closed = np.concatenate((body, body[:1]))
    parts = []
    for a, b in itertools.pairwise(points):
        parts += [_parallelogram(p, q, a, b) for p, q in itertools.pairwise(closed)]
    places = [shapely.make_valid(shapely.polygons(body + at)) for at in points]
    return united(np.array([*places, *(p for p in parts if p is not None)], object))


def _parallelogram(p: Points, q: Points, a: Points, b: Points) -> shapely.Geometry | None:
    corners = np.array([p + a, q + a, q + b, p + b])
    side, way = q - p, b - a
    if abs(float(side[0] * way[1] - side[1] * way[0])) < 1e-12:
        return None
    return shapely.polygons(corners)


def folded(area: shapely.Geometry) -> shapely.Geometry:
    """An area with its part beyond the centre line turned over onto the half plane: turned material is the same on either side."""
    z0, r0, z1, _ = shapely.bounds(area).tolist()
    if not r0 < 0:
        return area
    beyond = shapely.intersection(area, shapely.box(z0, r0, z1, 0))
    return united(np.array([area, shapely.transform(beyond, lambda points: points * (1, -1))], object))
