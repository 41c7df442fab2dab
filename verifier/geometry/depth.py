"""How deep a cut is at its deepest, from the shape of what it took off: the mean over a short stretch of the way, where that is greatest.

What stands across the way at one point only (the last wedge that an edge takes off a shoulder, the sliver along a face just cut) is no depth of
cut: it is gone within a fraction of a revolution.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Geometries = NDArray[np.object_]

STRETCH = 0.5
"""Over so many mm of the way a depth is taken: a revolution or a few."""
_LEVEL = 1e-12


def greatest_depth(parts: Geometries, way: tuple[float, float]) -> float:
    """The greatest mean extent, in mm, of half sections across a direction, over `STRETCH` of it (over all of it where it is shorter)."""
    length = (way[0] ** 2 + way[1] ** 2) ** 0.5
    rings, owner = shapely.get_rings(shapely.get_parts(parts), return_index=True)
    if not length or not len(rings):
        return 0.0
    u, v, sign = _edges(rings, owner, way[0] / length, way[1] / length)
    places = np.unique(u)
    if len(places) < 2:
        return 0.0
    chord = _Chords(u, v, sign, places)
    window = min(STRETCH, float(places[-1] - places[0]))
    starts = np.unique(np.clip(np.concatenate((places, places - window)), places[0], places[-1] - window))
    middles = (starts[1:] + starts[:-1]) / 2
    taken, between = (chord.area(at + window) - chord.area(at) for at in (starts, middles))
    return max(float(taken.max()), _crests(taken, between)) / window


def _crests(ends: Floats, middles: Floats) -> float:
    """The greatest of parabolas that go through two ends and a middle each, between those; 0 where none has its crest there."""
    a = 2 * (ends[:-1] - 2 * middles + ends[1:])
    b = 4 * middles - 3 * ends[:-1] - ends[1:]
    there = (a < -_LEVEL) & (b > 0) & (b < -2 * a)
    return float((ends[:-1] - b**2 / np.where(there, 4 * a, 1.0))[there].max(initial=0.0))


def _edges(rings: Geometries, owner: NDArray[np.int64], z: float, r: float) -> tuple[Floats, Floats, Floats]:
    """The edges of rings along (u) and across (v) a direction, and the sign by which each bounds the area from above or below."""
    points, ring = shapely.get_coordinates(rings, return_index=True)
    along, aside = points[:, 0] * z + points[:, 1] * r, points[:, 1] * z - points[:, 0] * r
    aside = aside - aside.min()
    inside = ring[1:] == ring[:-1]
    u, v = (np.stack((c[:-1], c[1:]))[:, inside] for c in (along, aside))
    ring = ring[:-1][inside]
    twice = np.bincount(ring, (v[0] + v[1]) * (u[1] - u[0]), minlength=len(rings))
    shell = np.ones(len(rings), np.bool_)
    shell[1:] = owner[1:] != owner[:-1]
    turn = np.where(shell, 1.0, -1.0) * np.sign(twice)
    return u, v, turn[ring]


class _Chords:
    """The extent across as a function of the place along: straight between the places of corners, and its integral."""

    def __init__(self, u: Floats, v: Floats, sign: Floats, places: Floats) -> None:
        way = u[1] - u[0]
        real = np.abs(way) > _LEVEL
        u, v, way, sign = u[:, real], v[:, real], way[real], sign[real]
        slope = (v[1] - v[0]) / way
        level = v[0] - slope * u[0]
        sense = sign * np.sign(way)
        count = len(places)
        first, last = np.searchsorted(places, np.minimum(u[0], u[1])), np.searchsorted(places, np.maximum(u[0], u[1]))
        self._places = places
        self._slope, self._level = (
            np.cumsum(np.bincount(first, k * sense, count) - np.bincount(last, k * sense, count))
            for k in (slope, level)
        )
        low, high = places[:-1], places[1:]
        pieces = (self._level[:-1] + self._slope[:-1] * (low + high) / 2) * (high - low)
        self._before = np.concatenate(([0.0], np.cumsum(pieces)))

    def area(self, at: Floats) -> Floats:
        """The area before each place."""
        k = np.clip(np.searchsorted(self._places, at, "right") - 1, 0, len(self._places) - 1)
        low = self._places[k]
        more = (self._level[k] + self._slope[k] * (low + at) / 2) * (at - low)
        return np.asarray(self._before[k] + more, np.float64)
