"""What a polygon passes over when it moves along a straight line or an arc, in (Z, R) and millimetres."""

from __future__ import annotations

import itertools
from math import acos, ceil, pi

import numpy as np
import shapely
from numpy.typing import NDArray

from verifier.geometry.tool_outline import CHORD, Points

Rings = list[Points]


def swept_line(edge: Points, start: Points, end: Points) -> Points:
    """A convex anticlockwise polygon moved straight: the polygon's far half at the end, its near half at the start, exactly."""
    way = end - start
    if not way.any():
        return edge + start
    across = edge[:, 1] * way[0] - edge[:, 0] * way[1]
    left, right = int(np.argmax(across)), int(np.argmin(across))
    turned = np.roll(edge, -right, axis=0)
    middle = (left - right) % len(edge)
    # Anticlockwise from the rightmost point (seen along the way) the polygon's front comes first, then its back.
    return np.concatenate((turned[: middle + 1] + end, turned[middle:] + start, turned[:1] + start))


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
    rings = [swept_line(edge, a, b) for a, b in itertools.pairwise(points)]
    if len(rings) == 1:
        return shapely.polygons(rings[0])
    return shapely.union_all(polygons(rings))


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
    places = [shapely.polygons(body + at) for at in points]
    return shapely.union_all([*places, *(p for p in parts if p is not None)])


def _parallelogram(p: Points, q: Points, a: Points, b: Points) -> shapely.Geometry | None:
    corners = np.array([p + a, q + a, q + b, p + b])
    side, way = q - p, b - a
    if abs(float(side[0] * way[1] - side[1] * way[0])) < 1e-12:
        return None
    return shapely.polygons(corners)
