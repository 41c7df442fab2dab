"""Grooves in an outline, outside, inside and in faces: a bottom between two walls, with its width, its corners and the angles of its walls.

Each of the four ways of looking turns the outline so that a groove is a valley: `u` runs on along the outline, `v` out of the material.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import atan2, degrees

import numpy as np

from verifier.geometry.surfaces import AXIS, CURVE, SLANT, Surface
from verifier.geometry.tool_outline import Points

OUTSIDE, INSIDE, FRONT, BACK = "outside", "inside", "front", "back"

_EVEN = 1e-6
_LEAST_DEEP = 0.02
_STEEP = 50.0
"""A groove has a wall that leans no more than this from upright, in degrees (common practice, no source)."""
_LEAST_STEEP = 80.0
"""Its other wall leans no more than this: a relief runs out at 15 degrees to the surface (common practice, no source)."""
_WIDEST, _WIDEST_SHARE = 50.0, 12.0
"""A groove is no wider than this, in mm, nor than so many times as wide as deep: else it is two shoulders (common practice, no source)."""
_UPRIGHT = 10.0


@dataclass(frozen=True, slots=True)
class Wall:
    """One wall: where it stands at the bottom and at the mouth (`u`), how it leans in degrees (positive: open outward), its corner's radius."""

    at_bottom: float
    at_mouth: float
    lean: float
    corner: float | None


@dataclass(frozen=True, slots=True)
class Groove:
    """A groove of a ring: `where` it opens to, its bottom and mouth (`v`), its walls in the order of the outline.

    `flat`: it has a bottom that is not only a point or a curve. `members` are the ring's surfaces that are nothing but parts of it, `rims` the
    surfaces at its edges. `sure` is False for a valley too wide for a groove.
    """

    where: str
    bottom: float
    mouth: float
    walls: tuple[Wall, Wall]
    flat: bool
    members: tuple[int, ...]
    rims: tuple[int, int]
    sure: bool

    @property
    def upright(self) -> bool:
        """Whether its width is that between its walls; else it is told at the mouth."""
        leans = [abs(wall.lean) for wall in self.walls]
        return max(leans) <= _UPRIGHT or (self.flat and max(leans) < _STEEP)

    @property
    def width(self) -> float:
        """Its width in mm, between the walls where they meet the bottom, or at the mouth."""
        one, other = self.walls
        return other.at_bottom - one.at_bottom if self.upright else other.at_mouth - one.at_mouth

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Z from and to, radius from and to."""
        u = [end for wall in self.walls for end in (wall.at_bottom, wall.at_mouth)]
        ends = [_back(self.where, a, b) for a in (min(u), max(u)) for b in (self.bottom, self.mouth)]
        zs, rs = [z for z, _ in ends], [r for _, r in ends]
        return min(zs), max(zs), min(rs), max(rs)

    @property
    def edges(self) -> tuple[float, float]:
        """Where its walls stand along Z (of a groove in a face: their radii), in the order of the outline."""
        at = [wall.at_bottom if self.upright else wall.at_mouth for wall in self.walls]
        k = 0 if self.where in (OUTSIDE, INSIDE) else 1
        return _back(self.where, at[0], 0)[k], _back(self.where, at[1], 0)[k]


def grooves(ring: Sequence[Surface]) -> tuple[Groove, ...]:
    """The grooves of a ring; no surface belongs to two of them."""
    taken: set[int] = set()
    found: list[Groove] = []
    for where in (OUTSIDE, INSIDE, FRONT, BACK) if ring else ():
        for one in _valleys(where, _turned(where, ring), ring):
            if not taken.intersection(one.members):
                taken.update(one.members)
                found.append(one)
    return tuple(found)


@dataclass(frozen=True, slots=True, eq=False)
class _Turned:
    """A ring turned for one way of looking, by surface.

    `lines` are its points (u, v), `low` its least v, `ways` 1 where it only climbs and -1 where it only falls (else 0), `flat` tells a bottom
    along which the outline runs on.
    """

    lines: list[Points]
    low: list[float]
    ways: list[int]
    flat: list[bool]


def _turned(where: str, ring: Sequence[Surface]) -> _Turned:
    counts = np.array([len(surface.points) for surface in ring])
    ends = np.cumsum(counts)
    starts, lasts = ends - counts, ends - 1
    z, r = np.concatenate([surface.points for surface in ring]).T
    u, v = {OUTSIDE: (-z, r), INSIDE: (z, -r), FRONT: (r, z), BACK: (-r, -z)}[where]
    steps = np.diff(v, append=v[-1])
    steps[lasts] = 0.0  # from the last point of a surface no step leads on
    low, rise = np.minimum.reduceat(v, starts), v[lasts] - v[starts]
    climbs = (np.minimum.reduceat(steps, starts) >= -1e-9) & (rise > _EVEN)
    falls = (np.maximum.reduceat(steps, starts) <= 1e-9) & (-rise > _EVEN)
    flat = (np.maximum.reduceat(v, starts) - low < _EVEN) & (u[lasts] > u[starts])
    points = np.stack((u, v), 1)
    lines = [points[start:end] for start, end in zip(starts.tolist(), ends.tolist(), strict=True)]
    return _Turned(lines, low.tolist(), np.where(climbs, 1, np.where(falls, -1, 0)).tolist(), flat.tolist())


def _back(where: str, u: float, v: float) -> tuple[float, float]:
    """Z and radius of a place in a turned outline."""
    return {OUTSIDE: (-u, v), INSIDE: (u, -v), FRONT: (v, u), BACK: (-v, -u)}[where]


def _valleys(where: str, turned: _Turned, ring: Sequence[Surface]) -> Iterator[Groove]:
    lines, ways, count = turned.lines, turned.ways, len(ring)
    for k, (line, low, flat) in enumerate(zip(lines, turned.low, turned.flat, strict=True)):
        if ring[k].kind == AXIS:
            continue
        round_ = ring[k].kind == CURVE and ring[k].hollow and low < float(min(line[0, 1], line[-1, 1])) - _EVEN
        pointed = ways[k] > 0 and ways[k - 1] < 0
        if not (flat or round_ or pointed):
            continue
        first, last = (k - 1, k + 1) if flat or round_ else (k - 1, k)
        left = _wall_of(ways, ring, first, -1)
        right = _wall_of(ways, ring, last % count, 1)
        if (left or round_) and (right or round_):
            found = _groove(
                where, lines, ring, (left, right), k, low, kind="flat" if flat else "round" if round_ else ""
            )
            if found is not None:
                yield found


def _wall_of(ways: list[int], ring: Sequence[Surface], k: int, step: int) -> list[int]:
    """The stretches that climb from the bottom on, one after the other."""
    found: list[int] = []
    while len(found) < len(ways) - 1 and ring[k].kind != AXIS and ways[k] == step:
        found.append(k)
        k = (k + step) % len(ways)
    return found


def _groove(
    where: str,
    lines: list[Points],
    ring: Sequence[Surface],
    climbs: tuple[list[int], list[int]],
    k: int,
    bottom: float,
    kind: str,
) -> Groove | None:
    tops = []
    for side, climb in enumerate(climbs):
        line = lines[climb[-1] if climb else k]
        tops.append(float(line[0 if side == 0 else -1, 1]))
    mouth = min(tops)
    deep = mouth - bottom
    if deep < _LEAST_DEEP:
        return None
    walls = [_wall(lines, ring, climbs[side], k if kind == "round" else None, (bottom, mouth), side) for side in (0, 1)]
    leans = sorted(abs(wall.lean) for wall in walls)
    wide = walls[1].at_mouth - walls[0].at_mouth
    if leans[0] > _STEEP or leans[1] > _LEAST_STEEP or wide < _EVEN:
        return None
    sure = wide <= min(_WIDEST, _WIDEST_SHARE * deep)
    members = [] if kind == "" else [k]
    for climb in climbs:
        for n, index in enumerate(climb):
            top, surface = float(lines[index][:, 1].max()), ring[index]
            corner = surface.kind == CURVE and surface.hollow and n == 0
            # A slant above the first stretch is a broken edge, unless it is the wall itself.
            edge = surface.kind == SLANT and n > 0 and float(np.ptp(lines[index][:, 1])) <= 0.25 * deep
            if top <= mouth + _EVEN and (corner or (surface.kind != CURVE and not edge)):
                members.append(index)
    count = len(lines)
    rims = tuple(((climb[-1] if climb else k) + step) % count for climb, step in zip(climbs, (-1, 1), strict=True))
    return Groove(where, bottom, mouth, (walls[0], walls[1]), kind == "flat", tuple(members), (rims[0], rims[1]), sure)


def _wall(
    lines: list[Points],
    ring: Sequence[Surface],
    climb: list[int],
    round_: int | None,
    levels: tuple[float, float],
    side: int,
) -> Wall:
    """One wall: its longest straight stretch below the mouth carries it; without one its curve does."""
    bottom, mouth = levels
    best: tuple[float, Points] | None = None
    for index in climb:
        line = lines[index]
        rise = min(float(line[:, 1].max()), mouth) - float(line[:, 1].min())
        if ring[index].kind != CURVE and rise > 0.25 * (mouth - bottom) and (best is None or rise > best[0] + _EVEN):
            best = rise, line
    corners = [ring[index].radius for index in climb[:1] if ring[index].kind == CURVE and ring[index].hollow]
    corner = corners[0] if corners else ring[round_].radius if round_ is not None else None
    sign = -1.0 if side == 0 else 1.0
    if best is None:
        chain = [*([round_] if round_ is not None else []), *climb]
        return _curved(np.concatenate([lines[k] for k in chain]), levels, sign, corner)
    (u0, v0), (u1, v1) = best[1][0].tolist(), best[1][-1].tolist()
    slope = (u1 - u0) / (v1 - v0)
    return Wall(
        u0 + slope * (bottom - v0),
        u0 + slope * (mouth - v0),
        degrees(atan2(sign * slope * (mouth - bottom), mouth - bottom)),
        corner,
    )


def _curved(points: Points, levels: tuple[float, float], sign: float, corner: float | None) -> Wall:
    """A wall that is a curve: where it comes to the mouth, seen from where it leaves the bottom."""
    bottom, mouth = levels
    lowest = points[points[:, 1] <= bottom + 1e-4]
    at_bottom = float((lowest[:, 0] * sign).max() * sign) if len(lowest) else float(points[0, 0])
    beyond = points[(points[:, 0] - at_bottom) * sign >= -1e-9]
    order = np.argsort(beyond[:, 1], kind="stable")
    at_mouth = float(np.interp(mouth, beyond[order, 1], beyond[order, 0]))
    return Wall(at_bottom, at_mouth, degrees(atan2(sign * (at_mouth - at_bottom), mouth - bottom)), corner)
