"""The finished half section read as features: diameters, faces, tapers, chamfers and radii, each with its sizes in mm.

A feature is a stretch of the outline that one surface makes. What still is the raw stock's own surface is no feature: nobody cut it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from math import atan2, degrees, hypot, pi, radians

import numpy as np
import shapely

from verifier.geometry.part import ThreadPass
from verifier.geometry.tool_outline import Points

DIAMETER, FACE, TAPER, CHAMFER, RADIUS = "diameter", "face", "taper", "chamfer", "radius"
THREAD_ROOT, THREAD_LEAD, THREAD_END, THREAD_TAPER = "thread root", "thread lead", "thread end", "thread taper"

_STRAIGHT = 2e-6
_ON_CIRCLE = 0.0008
_LEAST_CHORDS = 3
_LONGEST_CHORD = 2.0
_CORNER = radians(20)
_SHORT = 0.005
_SHORTEST_SLANT = 0.05
"""Below this a slant is what chords leave at the end of a curve."""
_LEAST = {RADIUS: 0.005}
"""The least change of a size that is told (mm); a radius is fitted through points within a thousandth."""
_CHAMFER = 5.0
"""The longest slant at about 45 degrees, along Z, that counts as a chamfer and not as a taper."""


@dataclass(frozen=True, slots=True)
class Feature:
    """One surface: its kind, "outside" or "inside" (faces: "front" looks away from the spindle, "back" toward it), and where it runs.

    `size` is the diameter of a cylinder, the Z of a face, the angle to the axis of a taper in degrees, the width along Z of a chamfer, the
    radius of a curve; of a thread the diameter of its root, its lead in mm, the Z of its end, the angle of its taper. `z_from`, `z_to`,
    `r_from`, `r_to` is the box around it, mm.
    """

    kind: str
    where: str
    size: float
    z_from: float
    z_to: float
    r_from: float
    r_to: float


def features(left: shapely.Geometry, stock: shapely.Geometry) -> tuple[Feature, ...]:
    """The features of what is left of a stock, in order along Z from the spindle, then by radius."""
    raw = shapely.boundary(stock)
    found = []
    for ring in _rings(left):
        found += [feature for feature in _of_ring(ring) if not _raw(feature, raw)]
    return tuple(sorted(found, key=lambda f: (f.z_from, f.r_from, f.kind, f.where, f.size)))


def _rings(left: shapely.Geometry) -> Iterator[Points]:
    """Outlines with the material on their left hand, without points on straight lines."""
    for polygon in shapely.get_parts(left):
        if polygon.geom_type != "Polygon" or polygon.area < 1e-6:
            continue
        turned = shapely.orient_polygons(polygon) if hasattr(shapely, "orient_polygons") else shapely.normalize(polygon)
        for ring in (turned.exterior, *turned.interiors):
            points = shapely.get_coordinates(shapely.simplify(ring, _STRAIGHT))[:-1]
            if len(points) >= 3:
                yield points


def _of_ring(points: Points) -> Iterator[Feature]:
    """The surfaces of one outline, beginning at a corner so that no curve is cut in two."""
    points = np.roll(points, -_corner(points), axis=0)
    points = np.concatenate((points, points[:1]))
    k = 0
    while k < len(points) - 1:
        last, circle = _curve(points, k)
        if circle is None:
            yield from _straight(points[k], points[k + 1])
            k += 1
        else:
            yield _feature(RADIUS, _side(points[k], points[last]), circle, points[k : last + 1])
            k = last


def _corner(points: Points) -> int:
    """The start of the longest edge: a curve is made of short ones."""
    ways = np.roll(points, -1, axis=0) - points
    return int(np.argmax(np.hypot(ways[:, 0], ways[:, 1])))


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


def _straight(a: Points, b: Points) -> Iterator[Feature]:
    along, across = (b - a).tolist()
    slanted = abs(across) >= _STRAIGHT and abs(along) >= _STRAIGHT
    if hypot(along, across) < (_SHORTEST_SLANT if slanted else _SHORT) or (
        abs(across) < _STRAIGHT and abs(float(a[1])) < _STRAIGHT
    ):
        return
    both = np.array([a, b])
    if abs(across) < _STRAIGHT:
        yield _feature(DIAMETER, _side(a, b), 2 * float(a[1]), both)
    elif abs(along) < _STRAIGHT:
        yield _feature(FACE, "front" if across > 0 else "back", float(a[0]), both)
    elif abs(along) <= _CHAMFER and 0.84 < abs(across / along) < 1.19:
        yield _feature(CHAMFER, _side(a, b), abs(along), both)
    else:
        yield _feature(TAPER, _side(a, b), degrees(atan2(abs(across), abs(along))), both)


def _side(a: Points, b: Points) -> str:
    return "outside" if float(b[0]) < float(a[0]) else "inside"


def _feature(kind: str, where: str, size: float, points: Points) -> Feature:
    (z0, r0), (z1, r1) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
    return Feature(kind, where, size, z0, z1, r0, r1)


def _raw(feature: Feature, raw: shapely.Geometry) -> bool:
    """Whether a straight surface lies on the stock's own outline."""
    if feature.kind == RADIUS:
        return False
    middle = shapely.Point((feature.z_from + feature.z_to) / 2, (feature.r_from + feature.r_to) / 2)
    return bool(shapely.distance(raw, middle) < 1e-6)


def thread_features(passes: tuple[ThreadPass, ...]) -> tuple[Feature, ...]:
    """Threads as their deepest passes leave them: for each lead and side the root's diameter where they end, the lead, the end, the taper.

    Passes of one lead that begin at several angles are the starts of one thread; how many passes it took makes no difference.
    """
    kept: dict[tuple[object, ...], ThreadPass] = {}
    for one in passes:
        # Two threads of one lead on one part lie apart along Z.
        key = (one.inside, one.lead, one.lead_change, round(one.end[0], 3))
        deepest = kept.get(key)
        sign = 1.0 if one.inside else -1.0
        if deepest is None or sign * one.end[1] > sign * deepest.end[1]:
            kept[key] = one
    found = []
    for one in kept.values():
        side = "inside" if one.inside else "outside"
        box = (*sorted((one.start[0], one.end[0])), *sorted((one.start[1], one.end[1])))
        sizes = [(THREAD_ROOT, 2 * one.end[1]), (THREAD_LEAD, float(one.lead)), (THREAD_END, one.end[0])]
        taper = degrees(atan2(abs(one.end[1] - one.start[1]), abs(one.end[0] - one.start[0]) or 1.0))
        sizes += [(THREAD_TAPER, taper)] if taper > 1e-6 else []
        found += [Feature(kind, side, size, *box) for kind, size in sizes]
    return tuple(sorted(found, key=lambda f: (f.z_from, f.r_from, f.kind, f.where, f.size)))


# -- two parts --------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class FeaturePair:
    """A feature before and after; None where it is not there."""

    old: Feature | None
    new: Feature | None


def changed_features(
    old: tuple[Feature, ...], new: tuple[Feature, ...], least: float = 1e-4
) -> tuple[FeaturePair, ...]:
    """The features whose size is another one by `least` (mm, degrees), those that are gone and those that came; mirrored for exchanged parts.

    Features of one kind and side belong together that have the most of their place in common; a face or a curve moves, so that nearness
    decides there.
    """
    left_old, left_new = _without_equal(old, new)
    taken_old, taken_new = set[int](), set[int]()
    pairs = []
    for _, i, j in sorted(_candidates(left_old, left_new, least), key=lambda entry: entry[0]):
        if i not in taken_old and j not in taken_new:
            taken_old.add(i)
            taken_new.add(j)
            if _differ(left_old[i], left_new[j], least):
                pairs.append(FeaturePair(left_old[i], left_new[j]))
    pairs += [FeaturePair(feature, None) for i, feature in enumerate(left_old) if i not in taken_old]
    pairs += [FeaturePair(None, feature) for j, feature in enumerate(left_new) if j not in taken_new]
    return tuple(sorted(pairs, key=_place))


_MOST_PAIRS = 250_000
Candidate = tuple[tuple[float, ...], int, int]


def _candidates(old: list[Feature], new: list[Feature], least: float) -> Iterator[Candidate]:
    """What may belong together: equal sizes first, then the nearest; the order is the same for exchanged parts."""
    if len(old) * len(new) > _MOST_PAIRS:
        return  # Two parts with so little in common: all of one is gone, all of the other new.
    for i, a in enumerate(old):
        for j, b in enumerate(new):
            if (a.kind, a.where) == (b.kind, b.where):
                apart, changed = _apart(a, b), _differ(a, b, least)
                near = apart < max(a.z_to - a.z_from, a.r_to - a.r_from, b.z_to - b.z_from, b.r_to - b.r_from, 0.1)
                ends = (a.z_from + b.z_from, a.r_from + b.r_from, abs(a.size - b.size))
                yield (float(changed or not near), round(apart, 6), *(round(end, 6) for end in ends)), i, j


def _differ(a: Feature, b: Feature, least: float) -> bool:
    return abs(a.size - b.size) >= _LEAST.get(a.kind, least)


def _place(pair: FeaturePair) -> tuple[float, float, str]:
    places = [f for f in (pair.old, pair.new) if f is not None]
    return -max(f.z_to for f in places), min(f.r_from for f in places), places[0].kind


def _without_equal(old: tuple[Feature, ...], new: tuple[Feature, ...]) -> tuple[list[Feature], list[Feature]]:
    """Both sides without what stands unchanged at the same place."""
    there = Counter(map(_rounded, old)) & Counter(map(_rounded, new))
    sides = []
    for side in (old, new):
        skip, kept = Counter(there), []
        for feature in side:
            key = _rounded(feature)
            if skip[key]:
                skip[key] -= 1
            else:
                kept.append(feature)
        sides.append(kept)
    return sides[0], sides[1]


def _rounded(f: Feature) -> tuple[object, ...]:
    return (f.kind, f.where, *(round(v, 3) for v in (f.size, f.z_from, f.z_to, f.r_from, f.r_to)))


def _apart(a: Feature, b: Feature) -> float:
    """How far two features lie from each other: between the middles of their boxes, mm."""
    along = (a.z_from + a.z_to - b.z_from - b.z_to) / 2
    return hypot(along, (a.r_from + a.r_to - b.r_from - b.r_to) / 2)
