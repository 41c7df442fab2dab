"""What a polygon passes over when it moves along a straight line or an arc, in (Z, R) and millimetres."""

from __future__ import annotations

import itertools
from math import acos, ceil, pi

import numpy as np
import shapely
from numpy.typing import NDArray

from verifier.geometry.section import united
from verifier.geometry.tool_outline import CHORD, Points


def swept_legs(edge: Points, starts: Points, ends: Points) -> NDArray[np.object_]:
    """What a convex anticlockwise polygon passes over on each of some straight ways.

    Seen along the way, the polygon's front half runs anticlockwise from its rightmost to its leftmost corner: that half ends at the end, the other
    half stays at the start, and the two straight lines between them are what those two corners draw. Nothing is rounded. Of two outermost corners,
    on an edge along the way, the one in front draws from the end and the one behind from the start: no corner lies on a straight line.
    """
    ways, corners = ends - starts, len(edge)
    across = np.outer(ways[:, 0], edge[:, 1]) - np.outer(ways[:, 1], edge[:, 0])
    left, left_behind = _outermost(across, across.max(axis=1))
    right_behind, right = _outermost(across, across.min(axis=1))
    still = (ways == 0).all(axis=1)
    front = np.where(still, corners, (left - right) % corners + 1)
    back = np.where(still, 0, (right_behind - left_behind) % corners + 1)
    count = front + back
    leg = np.repeat(np.arange(len(ways)), count)
    place = np.arange(len(leg)) - np.repeat(np.cumsum(count) - count, count)
    ahead = place < front[leg]
    corner = np.where(ahead, right[leg] + place, left_behind[leg] + place - front[leg]) % corners
    points = edge[corner] + np.where(ahead[:, None], ends[leg], starts[leg])
    return np.asarray(shapely.polygons(shapely.linearrings(points, indices=leg)), np.object_)


def front_of(edge: Points, way: Points) -> Points:
    """The corners of a convex anticlockwise polygon from its rightmost to its leftmost, seen along a way: what leads on it."""
    across = (way[0] * edge[:, 1] - way[1] * edge[:, 0])[None]
    left, right = _outermost(across, across.max(axis=1))[0], _outermost(across, across.min(axis=1))[1]
    return np.asarray(
        np.roll(edge, -int(right[0]), axis=0)[: (int(left[0]) - int(right[0])) % len(edge) + 1], np.float64
    )


def _outermost(across: Points, most: Points) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The first and the last of the corners, anticlockwise, that lie farthest out; there are two where an edge runs along the way."""
    there = across == most[:, None]
    first, last = there & ~np.roll(there, 1, axis=1), there & ~np.roll(there, -1, axis=1)
    return first.argmax(axis=1), last.argmax(axis=1)


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
    """A convex anticlockwise polygon moved along a row of points."""
    if len(points) == 2:
        return swept_legs(edge, points[:-1], points[1:])[0]
    ring = _boundary(edge, points)
    if ring is not None:
        drawn = shapely.polygons(ring)
        filled = shapely.buffer(drawn, 0)
        # What a fill might lose it would lose at the rim.
        if shapely.get_dimensions(filled) == 2 and (shapely.bounds(filled) == shapely.bounds(drawn)).all():
            return filled
    return united(swept_legs(edge, points[:-1], points[1:]))


def _boundary(edge: Points, points: Points) -> Points | None:
    """One closed line around what a convex polygon passes over on its way through some points; None where it turns back on itself.

    On the right of each leg it follows the polygon's rightmost corner, goes on along the polygon's edges where the way turns, around its front at
    the end, back on the left in the same manner, and around its back at the start. It is the sum of the lines around the legs less those around
    the polygon at the points between, so that it winds about a place as often as the polygon comes over it anew: never less than once where the
    polygon passes, not at all elsewhere. On the inner side of a turn it crosses itself.
    """
    ways, corners = np.diff(points, axis=0), len(edge)
    across = np.outer(ways[:, 0], edge[:, 1]) - np.outer(ways[:, 1], edge[:, 0])
    left, right = across.argmax(axis=1), across.argmin(axis=1)
    turn = ways[:-1, 0] * ways[1:, 1] - ways[:-1, 1] * ways[1:, 0]
    steps = [np.where(turn > 0, np.diff(side) % corners, -(-np.diff(side) % corners)) for side in (right, left)]
    if (turn == 0).any() or max(np.abs(step).max() for step in steps) > corners // 2:
        return None
    around = [(left[-1] - right[-1]) % corners], [(right[0] - left[0]) % corners]
    # From which corner, at which point, over how many corners: up on the right, around the front, down on the left, around the back.
    first = np.concatenate((right[:1], right, left[:0:-1], left[:1]))
    step = np.concatenate(([0], steps[0], around[0], -steps[1][::-1], around[1]))
    last = len(points) - 1
    at = np.concatenate((np.arange(last + 1), np.arange(last - 1, -1, -1)))
    count = np.abs(step) + 1
    node = np.repeat(np.arange(len(count)), count)
    place = np.arange(len(node)) - np.repeat(np.cumsum(count) - count, count)
    corner = (first[node] + np.sign(step)[node] * place) % corners
    return np.asarray(edge[corner] + points[at[node]], np.float64)


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
