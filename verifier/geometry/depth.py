"""How deep cuts are at their deepest, from the shapes of what they took off: the mean over a short stretch of the way, where that is greatest.

What stands across the way at one point only (the last wedge that an edge takes off a shoulder, the sliver along a face just cut) is no depth of
cut: it is gone within a fraction of a revolution.

Many moves are worked out at once, one behind the other in flat columns: a call of numpy costs more than the arithmetic of one move.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Rows = NDArray[np.int64]
Geometries = NDArray[np.object_]

STRETCH = 0.5
"""Over so many mm of the way a depth is taken: a revolution or a few."""
_LEVEL = 1e-12


def greatest_depth(parts: Geometries, way: tuple[float, float]) -> float:
    """The greatest mean extent, in mm, of half sections across a direction, over `STRETCH` of it (over all of it where it is shorter)."""
    return float(greatest_depths(parts, np.zeros(len(parts), np.int64), np.array([way], np.float64))[0])


def greatest_depths(parts: Geometries, move: Rows, ways: Floats) -> Floats:
    """The same for many moves at once: `move` is the row of `ways` for each of the parts, ascending; 0 for a move that goes nowhere."""
    length = np.sqrt(ways[:, 0] ** 2 + ways[:, 1] ** 2)
    pieces, part = shapely.get_parts(parts, return_index=True)
    rings, owner = shapely.get_rings(pieces, return_index=True)
    found = np.zeros(len(ways))
    real = length[move[part[owner]]] > 0
    rings, owner = rings[real], owner[real]
    if len(rings):
        chords = _chords(rings, owner, move[part[owner]], ways / np.where(length > 0, length, 1.0)[:, None])
        found[chords.move] = _deepest(chords)
    return found


@dataclass(frozen=True, eq=False)
class _Chords:
    """For each move the extent across as a function of the place along: straight between the places of corners, and its integral.

    The places of `move[i]` are those from `starts[i]` up to `starts[i + 1]`, ascending; from each on, the extent is `level` + `slope` times the
    place, and `before` is the area in front of it.
    """

    move: Rows
    starts: Rows
    places: Floats
    slope: Floats
    level: Floats
    before: Floats


def _chords(rings: Geometries, owner: Rows, move: Rows, unit: Floats) -> _Chords:
    points, ring = shapely.get_coordinates(rings, return_index=True)
    of = move[ring]
    way = unit[of]
    along, aside = (points * way).sum(axis=1), points[:, 1] * way[:, 0] - points[:, 0] * way[:, 1]
    group = np.flatnonzero(np.diff(of, prepend=-1))
    aside -= np.repeat(np.minimum.reduceat(aside, group), np.diff(group, append=len(of)))
    order = np.lexsort((along, of))
    u, m = along[order], of[order]
    fresh = np.ones(len(u), np.bool_)
    fresh[1:] = (u[1:] != u[:-1]) | (m[1:] != m[:-1])
    place = np.empty(len(u), np.int64)
    place[order] = np.cumsum(fresh) - 1
    places, starts = u[fresh], np.flatnonzero(np.diff(m[fresh], prepend=-1))
    starts = np.append(starts, len(places))
    slope, level = (_running(steps, starts) for steps in _steps(along, aside, place, ring, owner, len(places)))
    pieces = np.zeros(len(places))
    pieces[1:] = (level[:-1] + slope[:-1] * (places[:-1] + places[1:]) / 2) * (places[1:] - places[:-1])
    pieces[starts[:-1]] = 0.0
    return _Chords(of[group], starts, places, slope, level, _running(pieces, starts))


def _steps(along: Floats, aside: Floats, place: Rows, ring: Rows, owner: Rows, count: int) -> list[Floats]:
    """By how much slope and level of the extent step at each place: each edge bounds the area from above or below, from place to place."""
    way = np.diff(along)
    inside = ring[1:] == ring[:-1]
    twice = np.bincount(ring[:-1], np.where(inside, (aside[:-1] + aside[1:]) * way, 0.0), minlength=len(owner))
    shell = np.ones(len(owner), np.bool_)
    shell[1:] = owner[1:] != owner[:-1]
    sign = np.where(shell, 1.0, -1.0) * np.sign(twice)
    edge = np.flatnonzero(inside & (np.abs(way) > _LEVEL))
    sense = sign[ring[edge]]
    slope = np.diff(aside)[edge] / way[edge]
    level = aside[edge] - slope * along[edge]
    first, last = place[edge], place[edge + 1]
    return [
        np.asarray(np.bincount(first, k * sense, count) - np.bincount(last, k * sense, count), np.float64)
        for k in (slope, level)
    ]


def _running(steps: Floats, starts: Rows) -> Floats:
    """Running sums, each move's for itself: the rounding of one must not reach into the next. Moves of about the same length are summed at once."""
    sums = np.zeros_like(steps)
    counts = np.diff(starts)
    length = np.exp2(np.ceil(np.log2(np.maximum(counts, 1)))).astype(np.int64)
    for longest in np.unique(length).tolist():
        some = length == longest
        within = np.arange(longest) < counts[some, None]
        at = (starts[:-1][some, None] + np.arange(longest))[within]
        table = np.zeros(within.shape)
        table[within] = steps[at]
        sums[at] = np.cumsum(table, axis=1)[within]
    return sums


def _deepest(chords: _Chords) -> Floats:
    """The greatest area over a stretch of each move's way, by the length of the stretch."""
    starts = chords.starts
    low, high = chords.places[starts[:-1]], chords.places[starts[1:] - 1]
    long = high - low
    window = np.minimum(STRETCH, long)
    # Over all of a short way there is but one stretch.
    best = np.where(long > 0, chords.before[starts[1:] - 1], 0.0)
    rows = np.flatnonzero(long > STRETCH)
    if len(rows):
        best[rows] = _greatest(chords, rows, low[rows], high[rows])
    return np.asarray(best / np.where(window > 0, window, 1.0), np.float64)


def _greatest(chords: _Chords, rows: Rows, low: Floats, high: Floats) -> Floats:
    """The greatest area over a stretch of `STRETCH`. It is a parabola between stretches that begin or end at a corner: ends and crests are asked."""
    begin, bounds = _begins(chords, rows, low, high - STRETCH)
    asked = np.empty((4, len(begin)))
    asked[0] = begin
    # Between the last stretch of a move and the first of the next there is no middle: it is its own.
    asked[1] = begin
    asked[1, :-1] = (begin[1:] + begin[:-1]) / 2
    asked[1, bounds[1:] - 1] = begin[bounds[1:] - 1]
    asked[2:] = asked[:2] + STRETCH
    where = np.empty(asked.shape, np.int64)
    first, last = chords.starts[rows].tolist(), chords.starts[rows + 1].tolist()
    for k, (a, b) in enumerate(itertools.pairwise(bounds.tolist())):
        where[:, a:b] = chords.places[first[k] : last[k]].searchsorted(asked[:, a:b], "right")
    counts = np.diff(bounds)
    corners = np.repeat(chords.starts[rows + 1] - chords.starts[rows], counts)
    where = np.minimum(np.maximum(where, 1), corners) + np.repeat(chords.starts[rows] - 1, counts)
    areas = _area(chords, where, asked)
    taken, between = areas[2] - areas[0], areas[3] - areas[1]
    crests = _crests(taken[:-1], between[:-1], taken[1:])
    crests = np.append(crests, 0.0)
    crests[bounds[1:] - 1] = 0.0
    return np.asarray(np.maximum.reduceat(np.maximum(taken, crests), bounds[:-1]), np.float64)


def _begins(chords: _Chords, rows: Rows, low: Floats, most: Floats) -> tuple[Floats, Rows]:
    """Where stretches begin that begin or end at a corner, ascending, from each move's lowest to its last one; and where each move's begin."""
    counts = np.diff(chords.starts)
    of = np.full(len(counts), -1, np.int64)
    of[rows] = np.arange(len(rows))
    of = np.repeat(of, counts)
    corners, of = chords.places[of >= 0], of[of >= 0]
    at = np.concatenate((corners, corners - STRETCH, low, most))
    of = np.concatenate((of, of, np.arange(len(rows)), np.arange(len(rows))))
    inside = (at >= low[of]) & (at <= most[of])
    at, of = at[inside], of[inside]
    order = np.lexsort((at, of))
    return at[order], np.append(np.flatnonzero(np.diff(of[order], prepend=-1)), len(of))


def _area(chords: _Chords, place: Rows, at: Floats) -> Floats:
    """The area before each place asked, which lies behind a corner."""
    low = chords.places[place]
    more = (chords.level[place] + chords.slope[place] * (low + at) / 2) * (at - low)
    return np.asarray(chords.before[place] + more, np.float64)


def _crests(ends: Floats, middles: Floats, next_ends: Floats) -> Floats:
    """The greatest of parabolas that go through two ends and a middle each, between those; 0 where one has no crest there."""
    a = 2 * (ends - 2 * middles + next_ends)
    b = 4 * middles - 3 * ends - next_ends
    there = (a < -_LEVEL) & (b > 0) & (b < -2 * a)
    return np.asarray(np.where(there, ends - b**2 / np.where(there, 4 * a, 1.0), 0.0), np.float64)
