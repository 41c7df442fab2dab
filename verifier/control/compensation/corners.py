"""Where the offset paths of two legs meet: straight on, at an inner corner, round an outer corner, or turned back.

Sources: NISTIR 6556 section 3.5.10 and appendix B (an arc of the tool radius round a convex corner); that lathes go round an outer corner on straight
lines, with a second one beyond a quarter turn, is common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from verifier.control.compensation.plane import ONE, ZERO, Curve, Vec, line_and_circle, two_circles


@dataclass(frozen=True, slots=True)
class Corner:
    """The path of the nose centre at the end of a leg: the first place ends that leg's own curve, the last one begins the next leg's.

    `split`: the place up to which the path belongs to the leg that ends. `about`: the centre of an arc instead of straight lines between the
    places. `met`: False where the offset curves do not meet.
    """

    places: tuple[Vec, ...]
    split: int = 0
    about: Vec | None = None
    outer: bool = False
    back: bool = False
    met: bool = True


@dataclass(frozen=True, slots=True)
class Nose:
    """What an offset is made by: the nose radius, the side (1 left, -1 right), and the ways of the control."""

    radius: Decimal
    side: int
    arc_corners: bool
    small: Decimal

    def normal(self, leg: Curve, place: Vec) -> Vec:
        """The unit direction from a point of a leg to the nose centre that touches it there."""
        return leg.heading(place).left().unit().times(Decimal(self.side))

    def beside(self, leg: Curve, place: Vec) -> Vec:
        """The nose centre that touches a leg square at one of its points."""
        return place.plus(self.normal(leg, place), self.radius)

    def round_radius(self, leg: Curve, place: Vec) -> Decimal:
        """The radius of the offset of an arc; below zero where the nose does not fit into it."""
        return leg.radius(place) - self.radius * self.side * leg.sense

    def fits(self, leg: Curve) -> bool:
        """Whether the offset of a leg exists (an arc that the nose just fills is a point)."""
        return (
            leg.centre is None or min(self.round_radius(leg, leg.start), self.round_radius(leg, leg.end)) > self.small
        )


def corner(nose: Nose, before: Curve, after: Curve) -> Corner:
    """The corner between two legs that the nose follows on one side."""
    point = before.end
    one, other = before.heading(before.end), after.heading(after.start)
    turn = one.cross(other) * nose.side
    if turn == 0 and one.dot(other) > 0:
        return Corner((nose.beside(before, point),))
    if turn == 0:
        return Corner(_round_corner(nose, before, after), split=_own(before), outer=True, back=True)
    if turn < 0:
        return _outer(nose, before, after)
    return _inner(nose, before, after)


def _own(before: Curve) -> int:
    """Which place of an outer corner of straight lines still belongs to the leg that ends: an arc needs a line of its own to get there."""
    return 1 if before.centre is not None else 0


def _mitre(nose: Nose, before: Curve, after: Curve) -> Vec:
    """The nose centre at one radius from both headings at the corner."""
    one, other = nose.normal(before, before.end), nose.normal(after, after.start)
    return before.end.plus(one.plus(other), nose.radius / (ONE + one.dot(other)))


def _outer(nose: Nose, before: Curve, after: Curve) -> Corner:
    begin, end = nose.beside(before, before.end), nose.beside(after, after.start)
    one, other = before.heading(before.end), after.heading(after.start)
    if one.dot(other) >= 0:
        point = _mitre(nose, before, after)
        if end.minus(begin).length() <= nose.small or point.minus(begin).length() <= nose.small:
            return Corner((point,), outer=True)
        if nose.arc_corners:
            return Corner((begin, end), about=before.end, outer=True)
        first = (begin, point) if before.centre is not None else (point,)
        last = (end,) if after.centre is not None else ()
        return Corner(first + last, split=_own(before), outer=True)
    if nose.arc_corners:
        return Corner((begin, end), about=before.end, outer=True)
    return Corner(_round_corner(nose, before, after), split=_own(before), outer=True)


def _round_corner(nose: Nose, before: Curve, after: Curve) -> tuple[Vec, ...]:
    """Both legs made longer by the nose radius, and straight from one to the other."""
    begin, end = nose.beside(before, before.end), nose.beside(after, after.start)
    one, other = before.heading(before.end).unit(), after.heading(after.start).unit()
    places = (begin.plus(one, nose.radius), end.plus(other, -nose.radius))
    first = (begin, *places) if before.centre is not None else places
    return (*first, end) if after.centre is not None else first


def _inner(nose: Nose, before: Curve, after: Curve) -> Corner:
    begin, end = nose.beside(before, before.end), nose.beside(after, after.start)
    place = _meeting(nose, before, after) if nose.fits(before) and nose.fits(after) else None
    if place is not None:
        return Corner((place,))
    if end.minus(begin).length() <= nose.small:
        # Curves that all but touch may miss each other by the rounding of their points.
        return Corner((_mitre(nose, before, after),))
    return Corner((begin, end), met=False)


def _meeting(nose: Nose, before: Curve, after: Curve) -> Vec | None:
    """Where the offset curves meet. Of two places the one that moves to the corner as the radius shrinks to nothing."""
    point = before.end
    if before.centre is None and after.centre is None:
        return _mitre(nose, before, after)
    if before.centre is not None and after.centre is not None:
        left = 1 if after.centre.minus(before.centre).cross(point.minus(before.centre)) > 0 else -1
        radii = nose.round_radius(before, point), nose.round_radius(after, point)
        return two_circles(before.centre, radii[0], after.centre, radii[1], left)
    line, arc = (before, after) if before.centre is None else (after, before)
    assert arc.centre is not None
    way = line.heading(point)
    beyond = 1 if point.minus(arc.centre).dot(way) > ZERO else -1
    return line_and_circle(nose.beside(line, point), way, arc.centre, nose.round_radius(arc, point), beyond)
