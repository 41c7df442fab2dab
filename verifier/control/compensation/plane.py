"""Points, lines and circles of a plane in decimals of 60 digits: offsets and where they meet.

The plane is seen with +Z to the right and +X up, so that "left" is left of the way the tool goes there. Any other plane can be put in its place
(its first axis for Z, its second for X). Lengths are ticks. Programmed points are whole ticks, so which way a corner turns is decided exactly;
square roots are rounded in the 60th digit, far below half a tick at any distance a machine reaches.
"""

from __future__ import annotations

from decimal import ROUND_HALF_EVEN, Context, Decimal
from typing import NamedTuple

from verifier.control.strokes import Kind, Point

PRECISION = Context(prec=60, rounding=ROUND_HALF_EVEN)
"""The context in which everything here is computed; callers enter it with `decimal.localcontext(PRECISION)`."""

ZERO, ONE, TWO = Decimal(0), Decimal(1), Decimal(2)


class Vec(NamedTuple):
    """A point or a direction."""

    z: Decimal
    x: Decimal

    def plus(self, other: Vec, times: Decimal = ONE) -> Vec:
        """The point moved along `other`, `times` over."""
        return Vec(self.z + other.z * times, self.x + other.x * times)

    def minus(self, other: Vec) -> Vec:
        """The way from `other` to here."""
        return Vec(self.z - other.z, self.x - other.x)

    def times(self, factor: Decimal) -> Vec:
        """The direction stretched."""
        return Vec(self.z * factor, self.x * factor)

    def dot(self, other: Vec) -> Decimal:
        """The scalar product."""
        return self.z * other.z + self.x * other.x

    def cross(self, other: Vec) -> Decimal:
        """Above zero where `other` points to the left of this direction."""
        return self.z * other.x - self.x * other.z

    def length(self) -> Decimal:
        """How long it is."""
        return self.dot(self).sqrt()

    def unit(self) -> Vec:
        """The same direction, one tick long; the direction must not be zero."""
        return self.times(ONE / self.length())

    def left(self) -> Vec:
        """The direction a quarter turn to the left."""
        return Vec(-self.x, self.z)


def vec(point: Point) -> Vec:
    """A programmed point."""
    return Vec(Decimal(point.z), Decimal(point.x))


def ticks(place: Vec) -> Point:
    """The nearest whole ticks (ties to even): off by half a tick at most in each coordinate."""
    return Point(x=int(place.x.to_integral_value(ROUND_HALF_EVEN)), z=int(place.z.to_integral_value(ROUND_HALF_EVEN)))


class Curve(NamedTuple):
    """A straight or round stretch from `start` to `end`. `sense`: 1 counterclockwise, -1 clockwise, 0 straight."""

    start: Vec
    end: Vec
    centre: Vec | None
    sense: int

    def heading(self, place: Vec) -> Vec:
        """The way the tool goes at a point of it (not of unit length; exact for exact points)."""
        if self.centre is None:
            return self.end.minus(self.start)
        return place.minus(self.centre).left().times(Decimal(self.sense))

    def radius(self, place: Vec) -> Decimal:
        """The distance from the centre at a point of an arc."""
        assert self.centre is not None
        return place.minus(self.centre).length()

    def sweeps(self, place: Vec) -> bool:
        """Whether an arc passes through the direction in which `place` lies from its centre."""
        assert self.centre is not None
        first, last, there = (p.minus(self.centre) for p in (self.start, self.end, place))
        whole = turned(first, last, self.sense) or Decimal(4)
        return turned(first, there, self.sense) <= whole


def curve(kind: Kind, start: Point, end: Point, centre: Point | None) -> Curve:
    """A programmed move as a curve."""
    sense = {Kind.ARC_CCW: 1, Kind.ARC_CW: -1}.get(kind, 0)
    return Curve(vec(start), vec(end), vec(centre) if sense and centre is not None else None, sense)


def turned(first: Vec, then: Vec, sense: int) -> Decimal:
    """How far `then` is turned from `first` in the sense given, on a scale from 0 to below 4 that rises with the angle (no angle is computed)."""
    across = first.cross(then) * sense
    along = first.dot(then) / (first.length() * then.length())
    if across > 0 or (across == 0 and along > 0):
        return ONE - along
    return Decimal(3) + along


def line_and_circle(foot_on: Vec, way: Vec, centre: Vec, radius: Decimal, beyond: int) -> Vec | None:
    """Where a line meets a circle: of two places the one farther along the line (`beyond` 1) or less far (-1); None where they do not meet."""
    along = way.unit()
    foot = foot_on.plus(along, centre.minus(foot_on).dot(along))
    room = radius * radius - foot.minus(centre).dot(foot.minus(centre))
    return foot.plus(along, room.sqrt() * beyond) if room >= 0 else None


def two_circles(one: Vec, radius: Decimal, other: Vec, other_radius: Decimal, left: int) -> Vec | None:
    """Where two circles meet: of two places the one left (`left` 1) or right (-1) of the way from `one` to `other`; None where they do not."""
    way = other.minus(one)
    square = way.dot(way)
    if square == 0:
        return None
    far = square.sqrt()
    along = (radius * radius - other_radius * other_radius + square) / (TWO * far)
    room = radius * radius - along * along
    if room < 0:
        return None
    unit = way.times(ONE / far)
    return one.plus(unit, along).plus(unit.left(), room.sqrt() * left)
