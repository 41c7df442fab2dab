"""What a polygon passes over when it moves along a straight line or an arc, in (Z, R) and millimetres."""

from __future__ import annotations

import itertools
from math import acos, ceil, pi

import numpy as np
import shapely
from numpy.typing import NDArray

from verifier.geometry.tool_outline import CHORD, Points


def swept_legs(edge: Points, starts: Points, ends: Points) -> NDArray[np.object_]:
    """What a convex anticlockwise polygon passes over on each of some straight ways.

    Seen along the way, the polygon's front half runs anticlockwise from its rightmost to its leftmost corner: that half ends at the end, the other
    half stays at the start, and the two straight lines between them are what those two corners draw. Nothing is rounded.
    """
    ways, corners = ends - starts, len(edge)
    across = np.outer(ways[:, 0], edge[:, 1]) - np.outer(ways[:, 1], edge[:, 0])
    left, right = across.argmax(axis=1), across.argmin(axis=1)
    still = (ways == 0).all(axis=1)
    front = np.where(still, corners, (left - right) % corners + 1)
    back = np.where(still, 0, (right - left) % corners + 1)
    count = front + back
    leg = np.repeat(np.arange(len(ways)), count)
    place = np.arange(len(leg)) - np.repeat(np.cumsum(count) - count, count)
    ahead = place < front[leg]
    corner = np.where(ahead, right[leg] + place, left[leg] + place - front[leg]) % corners
    points = edge[corner] + np.where(ahead[:, None], ends[leg], starts[leg])
    return np.asarray(shapely.polygons(shapely.linearrings(points, indices=leg)), np.object_)


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
    legs = swept_legs(edge, points[:-1], points[1:])
    return legs[0] if len(legs) == 1 else united(legs)


def united(parts: NDArray[np.object_]) -> shapely.Geometry:
    """The union of polygons; where floats fail it, once more on a grid of a nanometre."""
    try:
        return shapely.union_all(parts)
    except shapely.GEOSException:
        return shapely.union_all(shapely.make_valid(parts), grid_size=1e-6)


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
