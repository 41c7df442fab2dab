"""Where the nose circle comes nearer to the contour than its radius: it cuts there.

Distances are computed in decimals of 60 digits; what counts as nearer leaves room for the rounding of the path and for arcs whose two radii differ.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import NamedTuple

from verifier.control.compensation.legs import Trouble, Wrong
from verifier.control.compensation.plane import Curve, Vec, line_and_circle, turned, two_circles

_ROUNDING = Decimal(4)
"""Ticks: path and contour are rounded to whole ticks."""
_ROUND_THE_NOSE = Decimal(7)
"""Nose radii, a little more than once round the nose: no groove that holds the nose has less contour between its walls."""


class Track(NamedTuple):
    """A contour leg (its index), its programmed curve, the stretches that the nose centre makes for it, and whether it cuts.

    A rapid leaves no contour that could be cut into.
    """

    leg: int
    contour: Curve
    path: tuple[Curve, ...]
    cuts: bool


class _Box(NamedTuple):
    low_z: Decimal
    high_z: Decimal
    low_x: Decimal
    high_x: Decimal


def cut_into(tracks: Sequence[Track], radius: int, small: int) -> list[Trouble]:
    """Every pair of legs of which the nose on one comes too near to the other, and by how much.

    Legs with little contour between them are one place of the part: there the nose cuts in. Legs that lie far from each other along the path may be
    passed where no material is left, or where there never was any: those are told as PASSES.
    """
    nose = Decimal(radius)
    room = Decimal(small) / 10 + _ROUNDING
    gone_by = _gone_by(tracks)
    found = []
    for one, other in _near(tracks, nose):
        off = room + _off_round(one.contour) + _off_round(other.contour)
        distance = min(apart(part, other.contour) for part in one.path)
        if distance < nose - off:
            first, last = sorted((one.leg, other.leg))
            near = gone_by[last][0] - gone_by[first][1] <= nose * _ROUND_THE_NOSE
            wrong = Wrong.CUTS if near else Wrong.PASSES
            found.append(Trouble(wrong, one.leg, int((nose - distance).to_integral_value()), other.leg))
    return found


def _gone_by(tracks: Sequence[Track]) -> dict[int, tuple[Decimal, Decimal]]:
    """How far along the contour each leg begins and ends (arcs by their chords, those beyond a half circle by two radii)."""
    found, far = {}, Decimal(0)
    for track in tracks:
        here = track.contour
        length = here.end.minus(here.start).length()
        if here.centre is not None:
            swept = turned(here.start.minus(here.centre), here.end.minus(here.centre), here.sense)
            length = length if 0 < swept <= 2 else 2 * here.radius(here.start)
        found[track.leg] = (far, far + length)
        far += length
    return found


def _off_round(leg: Curve) -> Decimal:
    """By how much the two radii of an arc differ."""
    return abs(leg.radius(leg.start) - leg.radius(leg.end)) if leg.centre is not None else Decimal(0)


def _near(tracks: Sequence[Track], nose: Decimal) -> Iterator[tuple[Track, Track]]:
    """Pairs of a leg's path and a leg's contour that may be nearer than the radius, found by going along Z."""
    cut = sorted((t for t in tracks if t.cuts), key=lambda t: _box(t.contour).low_z)
    boxes = [_box(t.contour) for t in cut]
    reach: list[Decimal] = []  # the greatest Z that any contour leg up to here reaches
    for box in boxes:
        reach.append(max(box.high_z, reach[-1]) if reach else box.high_z)
    lows = [box.low_z for box in boxes]
    for track in tracks:
        if not track.path:
            continue
        parts = [_box(part) for part in track.path]
        low_z, high_z = min(p.low_z for p in parts) - nose, max(p.high_z for p in parts) + nose
        low_x, high_x = min(p.low_x for p in parts) - nose, max(p.high_x for p in parts) + nose
        k = _last_below(lows, high_z)
        while k >= 0 and reach[k] > low_z:
            box = boxes[k]
            if box.high_z > low_z and box.low_x < high_x and box.high_x > low_x:
                yield track, cut[k]
            k -= 1


def _last_below(values: list[Decimal], limit: Decimal) -> int:
    low, high = 0, len(values)
    while low < high:
        middle = (low + high) // 2
        if values[middle] < limit:
            low = middle + 1
        else:
            high = middle
    return low - 1


def _box(part: Curve) -> _Box:
    zs, xs = [part.start.z, part.end.z], [part.start.x, part.end.x]
    if part.centre is not None:
        far = max(part.radius(part.start), part.radius(part.end))
        for way in (Vec(far, Decimal(0)), Vec(-far, Decimal(0)), Vec(Decimal(0), far), Vec(Decimal(0), -far)):
            place = part.centre.plus(way)
            if part.sweeps(place):
                zs.append(place.z)
                xs.append(place.x)
    return _Box(min(zs), max(zs), min(xs), max(xs))


def together(others: Sequence[Trouble], cuts: Sequence[Trouble]) -> tuple[Trouble, ...]:
    """One trouble for each stretch of neighbouring legs (what is wrong there before how deep it cuts), then what is only passed."""
    groups: list[tuple[int, list[Trouble]]] = []
    near = [t for t in cuts if t.wrong is Wrong.CUTS]
    for trouble in sorted((*others, *near), key=lambda t: (min(t.leg, t.into), max(t.leg, t.into))):
        if groups and min(trouble.leg, trouble.into) <= groups[-1][0] + 1:
            last, inside = groups[-1]
            groups[-1] = (max(last, trouble.leg, trouble.into), [*inside, trouble])
        else:
            groups.append((max(trouble.leg, trouble.into), [trouble]))
    return (*(_worst(inside) for _, inside in groups), *(t for t in cuts if t.wrong is Wrong.PASSES))


def _worst(inside: list[Trouble]) -> Trouble:
    return min(inside, key=lambda t: (_FIRST.index(t.wrong), -t.amount))


_FIRST = (Wrong.BACK, Wrong.TIGHT, Wrong.CUTS, Wrong.GONE)


# -- distances ----------------------------------------------------------------------------------------------------------------


def apart(one: Curve, other: Curve) -> Decimal:
    """The least distance between two stretches; 0 where they cross."""
    if _cross(one, other):
        return Decimal(0)
    found = [to_point(one, other.start), to_point(one, other.end), to_point(other, one.start), to_point(other, one.end)]
    for arc, curve in ((one, other), (other, one)):
        if arc.centre is None:
            continue
        # The nearest places of a circle lie on the line from its centre to the foot on a line, or to the other centre.
        for foot in _feet(curve, arc.centre):
            found.append(to_point(arc, foot))
            if curve.centre is not None:
                found += [to_point(curve, place) for place in _feet(arc, curve.centre)]
    return min(found)


def to_point(curve: Curve, point: Vec) -> Decimal:
    """The distance of a point from a stretch."""
    ends = min(point.minus(curve.start).length(), point.minus(curve.end).length())
    return min([ends, *(point.minus(foot).length() for foot in _feet(curve, point))])


def _feet(curve: Curve, point: Vec) -> list[Vec]:
    """The places of a stretch, its ends left out, at which its distance from a point neither grows nor shrinks."""
    if curve.centre is None:
        way = curve.end.minus(curve.start)
        square = way.dot(way)
        along = point.minus(curve.start).dot(way) / square if square else Decimal(0)
        return [curve.start.plus(way, along)] if 0 < along < 1 else []
    out = point.minus(curve.centre)
    if out.dot(out) == 0:
        return []
    spoke = out.unit().times(curve.radius(curve.start))
    places = (curve.centre.plus(spoke), curve.centre.minus(spoke))
    return [place for place in places if curve.sweeps(place)]


def _cross(one: Curve, other: Curve) -> bool:
    """Whether two stretches have a point in common (touching ends are found by their distance)."""
    if one.centre is None and other.centre is None:
        return _lines_cross(one, other)
    places: list[Vec | None]
    if one.centre is not None and other.centre is not None:
        radii = one.radius(one.start), other.radius(other.start)
        places = [two_circles(one.centre, radii[0], other.centre, radii[1], left) for left in (1, -1)]
    else:
        line, arc = (one, other) if one.centre is None else (other, one)
        assert arc.centre is not None
        way = line.end.minus(line.start)
        if way.dot(way) == 0:
            return False
        radius = arc.radius(arc.start)
        places = [line_and_circle(line.start, way, arc.centre, radius, beyond) for beyond in (1, -1)]
    return any(place is not None and _holds(one, place) and _holds(other, place) for place in places)


def _holds(curve: Curve, place: Vec) -> bool:
    """Whether a place on the carrier of a stretch lies within it."""
    if curve.centre is not None:
        return curve.sweeps(place)
    way = curve.end.minus(curve.start)
    return 0 <= place.minus(curve.start).dot(way) <= way.dot(way)


def _lines_cross(one: Curve, other: Curve) -> bool:
    way, across = one.end.minus(one.start), other.end.minus(other.start)
    sides = [way.cross(p.minus(one.start)) for p in (other.start, other.end)]
    back = [across.cross(p.minus(other.start)) for p in (one.start, one.end)]
    return sides[0] * sides[1] < 0 and back[0] * back[1] < 0
