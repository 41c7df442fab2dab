"""The contour of a roughing cycle as a chain of rising and falling pieces, and where it crosses a level.

Seen in the frame of the cycle: outside turning toward -Z. Crossings are found with integers only; a crossing that is
not a whole tick is rounded to the side where stock remains.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate
from math import atan2, ceil, cos, floor, isqrt, pi, sin

from verifier.control.strokes import Kind, Point, Segment

REVERSAL = 10_000
"""A contour that turns back by no more than this (0.0001 mm, rounded arc ends) counts as not turning back."""

_NEAR = 1e-9
"""Radians within which an arc that ends at a quadrant is taken to end exactly there."""


@dataclass(frozen=True, slots=True)
class Piece:
    """A line, or a part of an arc within one quadrant: X and Z each only rise or only fall along it."""

    kind: Kind
    start: Point
    end: Point
    centre: Point | None
    block: int

    def crossing(self, level: int) -> int:
        """The Z at which the piece is at X = `level` (between its ends), rounded to the side of the stock."""
        rising = self.end.x > self.start.x
        near, far = max(self.start.z, self.end.z), min(self.start.z, self.end.z)
        exact = self._on_line(level, rising) if self.centre is None else self._on_arc(self.centre, level, rising)
        return min(near, max(far, exact))

    def _on_line(self, level: int, rising: bool) -> int:
        rise = self.end.x - self.start.x
        if rise == 0:
            return self.start.z
        z = self.start.z + Fraction((self.end.z - self.start.z) * (level - self.start.x), rise)
        return ceil(z) if rising else floor(z)

    def _on_arc(self, centre: Point, level: int, rising: bool) -> int:
        radius2 = (self.start.x - centre.x) ** 2 + (self.start.z - centre.z) ** 2
        # An arc whose end lies a rounding off its circle may not quite reach the level: take the circle's top.
        rest = max(0, radius2 - (level - centre.x) ** 2)
        low = isqrt(rest)
        high = low if low * low == rest else low + 1
        if self.start.z + self.end.z >= 2 * centre.z:
            return centre.z + (high if rising else low)
        return centre.z - (low if rising else high)


def pieces_of_segment(segment: Segment) -> tuple[Piece, ...]:
    """The segment as pieces; an arc is cut where it passes a quadrant."""
    ends = [*_quadrants(segment), segment.end]
    starts = [segment.start, *ends[:-1]]
    return tuple(
        Piece(segment.kind, start, end, segment.centre, segment.block) for start, end in zip(starts, ends, strict=True)
    )


def _quadrants(segment: Segment) -> list[Point]:
    """The points strictly inside an arc where it is furthest out along an axis, in the order of travel."""
    if segment.centre is None:
        return []
    centre, turn = segment.centre, 1 if segment.kind is Kind.ARC_CCW else -1
    radius = isqrt((segment.start.x - centre.x) ** 2 + (segment.start.z - centre.z) ** 2)
    first = atan2(segment.start.x - centre.x, segment.start.z - centre.z) * turn
    last = atan2(segment.end.x - centre.x, segment.end.z - centre.z) * turn
    if last <= first + _NEAR:
        last += 2 * pi
    number = floor((first + _NEAR) / (pi / 2)) + 1
    found = []
    while number * pi / 2 < last - _NEAR:
        angle = number * turn
        found.append(
            Point(centre.x + radius * round(sin(angle * pi / 2)), centre.z + radius * round(cos(angle * pi / 2)))
        )
        number += 1
    return found


@dataclass(frozen=True, slots=True)
class Profile:
    """The chain of pieces from the contour's first point to its end."""

    pieces: tuple[Piece, ...]

    @property
    def first(self) -> Point:
        """Where the profile begins."""
        return self.pieces[0].start

    @property
    def last(self) -> Point:
        """Where the profile ends."""
        return self.pieces[-1].end

    @property
    def lowest(self) -> int:
        """The smallest X that the profile reaches."""
        return min(self.first.x, min(piece.end.x for piece in self.pieces))

    @property
    def turns_back(self) -> bool:
        """Whether Z goes back against the travel somewhere, by more than REVERSAL."""
        return any(piece.end.z - piece.start.z > REVERSAL for piece in self.pieces)

    @property
    def falls(self) -> bool:
        """Whether X goes down again somewhere (a pocket), by more than REVERSAL."""
        return any(piece.start.x - piece.end.x > REVERSAL for piece in self.pieces)

    @property
    def falling_runs(self) -> int:
        """How often the profile begins to fall: no level has more openings than one more than this."""
        falling = [piece.end.x < piece.start.x for piece in self.pieces]
        return sum(now and not before for before, now in zip([False, *falling], falling, strict=False))

    def reaches(self, levels: tuple[int, ...]) -> tuple[int, ...]:
        """The Z to which a cut at each level (X) can travel from the front: where the profile first rises above it."""
        highest = tuple(accumulate((piece.end.x for piece in self.pieces), max))
        places = (bisect_right(highest, level) for level in levels)
        return tuple(
            self.pieces[place].crossing(level) if place < len(self.pieces) else self.last.z
            for place, level in zip(places, levels, strict=True)
        )


def profile_of(segments: tuple[Segment, ...]) -> Profile:
    """The profile made of these segments, in order."""
    return Profile(tuple(piece for segment in segments for piece in pieces_of_segment(segment)))
