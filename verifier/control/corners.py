"""Corners between two moves: a chamfer between lines, a round between lines and arcs. Pure, in whole ticks.

Seen with +Z to the right and +X up, as everywhere: a corner that turns left is rounded counter-clockwise. Points are computed from exact
fractions (`exact`) and rounded to the nearest tick, ties to even. Source of the rules: common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from verifier.control.exact import root
from verifier.control.strokes import Kind, Point


@dataclass(frozen=True, slots=True)
class Piece:
    """One of the two moves that meet: a line (`Kind.FEED`) or an arc with its centre."""

    kind: Kind
    start: Point
    end: Point
    centre: Point | None = None


@dataclass(frozen=True, slots=True)
class Corner:
    """What stands in the place of a corner: from `start` on the first move to `end` on the second, a line or an arc."""

    kind: Kind
    start: Point
    end: Point
    centre: Point | None = None


class CornerRefused(Exception):
    """A corner that cannot be: a code in words and the reason. Caught where the corner was asked for."""

    def __init__(self, code: str, reason: str) -> None:
        super().__init__(reason)
        self.code = code
        self.reason = reason


class _Vector(NamedTuple):
    """A vector in the plane: along Z (right) and along X (up)."""

    z: Fraction
    x: Fraction

    def dot(self, other: _Vector) -> Fraction:
        return self.z * other.z + self.x * other.x

    def cross(self, other: _Vector) -> Fraction:
        """Above zero where the other one lies to the left."""
        return self.z * other.x - self.x * other.z

    def times(self, factor: Fraction | int) -> _Vector:
        return _Vector(self.z * factor, self.x * factor)

    def plus(self, other: _Vector) -> _Vector:
        return _Vector(self.z + other.z, self.x + other.x)

    def minus(self, other: _Vector) -> _Vector:
        return _Vector(self.z - other.z, self.x - other.x)

    def left(self) -> _Vector:
        return _Vector(-self.x, self.z)

    def unit(self) -> _Vector:
        return self.times(1 / root(self.dot(self)))


def _at(point: Point) -> _Vector:
    return _Vector(Fraction(point.z), Fraction(point.x))


def _rounded(place: _Vector) -> Point:
    return Point(round(place.x), round(place.z))


def _direction(piece: Piece, at: Point) -> _Vector:
    """The way a piece travels at one of its ends."""
    if piece.centre is None:
        return _at(piece.end).minus(_at(piece.start))
    outward = _at(at).minus(_at(piece.centre))
    return outward.left() if piece.kind is Kind.ARC_CCW else outward.left().times(-1)


def chamfer(one: Piece, two: Piece, size: int) -> Corner:
    """A chamfer that leaves the first line `size` before the corner and meets the second `size` behind it."""
    if one.kind.arc or two.kind.arc:
        raise CornerRefused("", "a chamfer beside an arc: controls measure it in different ways")
    _turn(one, two)
    corner = _at(one.end)
    start = corner.minus(_direction(one, one.end).unit().times(size))
    end = corner.plus(_direction(two, two.start).unit().times(size))
    return _fitting(one, two, Corner(Kind.FEED, _rounded(start), _rounded(end)))


def rounding(one: Piece, two: Piece, radius: int) -> Corner | None:
    """An arc tangent to both pieces; None where they go on without a corner."""
    turn = _turn(one, two)
    if turn == 0:
        return None
    side = 1 if turn > 0 else -1
    centre = _round_centre(one, two, radius * side)
    start, end = _foot(one, centre), _foot(two, centre)
    kind = Kind.ARC_CCW if side > 0 else Kind.ARC_CW
    return _fitting(one, two, Corner(kind, _rounded(start), _rounded(end), _rounded(centre)))


def _turn(one: Piece, two: Piece) -> Fraction:
    """Above zero for a turn to the left, zero for none; refused where there is no corner to speak of."""
    before, after = _direction(one, one.end), _direction(two, two.start)
    if before.dot(before) == 0 or after.dot(after) == 0:
        raise CornerRefused("corner-without-next-move", "one of the two moves of the corner goes nowhere")
    turn = before.cross(after)
    if turn == 0 and before.dot(after) < 0:
        raise CornerRefused("corner-not-possible", "the second move goes back along the first")
    return turn


def _round_centre(one: Piece, two: Piece, offset: int) -> _Vector:
    """The centre of the arc: where both pieces, moved to their left by `offset`, meet; of two such points the one nearer the corner."""
    corner = _at(one.end)
    if one.centre is None and two.centre is None:
        return _lines_meet(one, two, offset)
    if one.centre is not None and two.centre is not None:
        found = _circles_meet(one, two, offset)
    else:
        line, arc = (one, two) if one.centre is None else (two, one)
        found = _line_meets_circle(line, arc, offset)
    if not found:
        raise CornerRefused("corner-not-possible", "no arc of this radius touches both moves")
    return min(found, key=lambda place: place.minus(corner).dot(place.minus(corner)))


def _lines_meet(one: Piece, two: Piece, offset: int) -> _Vector:
    first, second = _direction(one, one.end).unit(), _direction(two, two.start).unit()
    back = offset * (1 - first.dot(second)) / first.cross(second)
    return _at(one.end).minus(first.times(back)).plus(first.left().times(offset))


def _grown(arc: Piece, offset: int) -> Fraction:
    """The radius of an arc moved to its left by `offset`; refused where nothing of it is left."""
    assert arc.centre is not None
    reach = _at(arc.end).minus(_at(arc.centre))
    radius = root(reach.dot(reach)) - (offset if arc.kind is Kind.ARC_CCW else -offset)
    if radius <= 0:
        raise CornerRefused(
            "corner-not-possible", "the radius of the corner is not below that of the arc inside which it lies"
        )
    return radius


def _line_meets_circle(line: Piece, arc: Piece, offset: int) -> list[_Vector]:
    assert arc.centre is not None
    along = _direction(line, line.end).unit()
    base = _at(line.start).plus(along.left().times(offset))
    radius = _grown(arc, offset)
    way = _at(arc.centre).minus(base)
    foot = base.plus(along.times(way.dot(along)))
    beside = way.cross(along)
    rest = radius * radius - beside * beside
    if rest < 0:
        return []
    half = root(rest)
    return [foot.plus(along.times(half)), foot.minus(along.times(half))]


def _circles_meet(one: Piece, two: Piece, offset: int) -> list[_Vector]:
    assert one.centre is not None
    assert two.centre is not None
    r1, r2 = _grown(one, offset), _grown(two, offset)
    way = _at(two.centre).minus(_at(one.centre))
    apart = way.dot(way)
    if apart == 0:
        return []
    share = (apart + r1 * r1 - r2 * r2) / (2 * apart)
    rest = r1 * r1 / apart - share * share
    if rest < 0:
        return []
    middle = _at(one.centre).plus(way.times(share))
    half = way.left().times(root(rest))
    return [middle.plus(half), middle.minus(half)]


def _foot(piece: Piece, centre: _Vector) -> _Vector:
    """Where an arc about `centre` touches a piece."""
    if piece.centre is None:
        along = _direction(piece, piece.end).unit()
        start = _at(piece.start)
        return start.plus(along.times(centre.minus(start).dot(along)))
    middle, reach = _at(piece.centre), _at(piece.end).minus(_at(piece.centre))
    out = centre.minus(middle)
    return middle.plus(out.unit().times(root(reach.dot(reach))))


def _fitting(one: Piece, two: Piece, corner: Corner) -> Corner:
    """The corner, if both moves are long enough for it."""
    if not (_on(one, corner.start) and _on(two, corner.end)):
        raise CornerRefused("corner-longer-than-move", "the corner takes more than there is of one of its two moves")
    return corner


def _on(piece: Piece, place: Point) -> bool:
    """Whether a place on the line or circle of a piece lies between its ends (or on one, to a tick of rounding)."""
    if any(abs(place.x - end.x) <= 1 and abs(place.z - end.z) <= 1 for end in (piece.start, piece.end)):
        return True
    if piece.centre is None:
        along, way = _direction(piece, piece.end), _at(place).minus(_at(piece.start))
        return 0 <= way.dot(along) <= along.dot(along)
    begin, end = piece.start, piece.end
    if piece.kind is Kind.ARC_CW:
        begin, end = end, begin
    middle = _at(piece.centre)
    from_begin = _at(begin).minus(middle)
    full = begin == end
    return full or _turned(from_begin, _at(place).minus(middle)) <= _turned(from_begin, _at(end).minus(middle))


def _turned(one: _Vector, other: _Vector) -> tuple[int, Fraction]:
    """The angle from one vector to another, counter-clockwise from 0 up to a full turn, as something that can be compared exactly."""
    along, across = one.dot(other), one.cross(other)
    quarter = 0 if along > 0 and across >= 0 else 1 if across > 0 else 2 if along < 0 else 3
    steep = {0: (across, along), 1: (-along, across), 2: (-across, -along), 3: (along, -across)}[quarter]
    return quarter, Fraction(steep[0]) / steep[1] if steep[1] else Fraction(0)


def lines_by_angle(
    start: Point, first: tuple[Fraction, Fraction], end: Point, second: tuple[Fraction, Fraction]
) -> Point:
    """Where the line from `start` at one angle meets the line to `end` at another; angles as (cosine, sine) from +Z towards +X."""
    one, two = _Vector(*first), _Vector(*second)
    across = one.cross(two)
    if across == 0:
        raise CornerRefused("angle-not-possible", "two lines at one angle do not meet")
    way = _at(end).minus(_at(start))
    return _rounded(_at(start).plus(one.times(way.cross(two) / across)))
