"""The tool's path for a chain of programmed legs: entry, contour with its corners, exit; and what the nose cannot do.

Each coordinate of the result is the exact one rounded to a whole tick (1e-8 mm). Sources: NISTIR 6556 section 3.5.10 and appendix B for offset and
exit; that entry ends, and a contour before an exit ends, square to the contour is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal, localcontext

from verifier.control.compensation.corners import Corner, Nose, corner
from verifier.control.compensation.fitting import Track, cut_into, together
from verifier.control.compensation.legs import Leg, Offset, Piece, Role, Tip, Trouble, Ways, Wrong
from verifier.control.compensation.plane import PRECISION, Curve, Vec, curve, ticks, turned
from verifier.control.strokes import Kind

_SLACK = Decimal(2)
"""Ticks: points nearer to each other than this are one point that was rounded twice."""


def compensate(legs: Sequence[Leg], tip: Tip, ways: Ways) -> Offset:
    """The path of the programmed tip that keeps the nose at the contour.

    `legs` are consecutive: one ENTRY, contour legs, and at the end one EXIT or none. A contour leg on the other side than the one before it is
    reached by a straight line across the contour. Contour legs go somewhere; an ENTRY whose start is not known starts at its own end.
    """
    if not tip.radius:
        as_written = tuple((Piece(leg.kind, leg.end, leg.centre),) for leg in legs)
        return Offset(as_written, (), (), (), (), (), ())
    with localcontext(PRECISION):
        return _Path(legs, tip, ways).offset()


class _Path:
    def __init__(self, legs: Sequence[Leg], tip: Tip, ways: Ways) -> None:
        self._legs, self._tip, self._ways = legs, tip, ways
        self._curves = [curve(leg.kind, leg.start, leg.end, leg.centre) for leg in legs]
        self._shift = Vec(Decimal(tip.z * tip.radius), Decimal(tip.x * tip.radius))
        self._troubles: list[Trouble] = []
        self._outer: list[int] = []
        self._sees_next: list[int] = []
        self._exact_fit: list[int] = []
        self._unsure: dict[int, None] = {}
        self._unseen: list[int] = []

    def offset(self) -> Offset:
        """All legs' pieces, then what the nose cuts into."""
        corners = [self._corner(k) for k in range(len(self._legs))]
        pieces, tracks = [], []
        for k in range(len(self._legs)):
            made, track = self._leg(k, corners[k - 1] if k else None, corners[k])
            pieces.append(made)
            tracks.append(track)
        cuts = cut_into(self._contour(tracks), self._tip.radius, self._ways.small)
        return Offset(
            tuple(pieces), together(self._troubles, cuts), tuple(self._outer), tuple(self._sees_next),
            tuple(self._exact_fit), tuple(self._unsure),
            tuple(self._unseen),
        )  # fmt: skip

    def _contour(self, tracks: list[tuple[Curve, ...]]) -> list[Track]:
        return [
            Track(k, self._curves[k], tracks[k], leg.kind.cuts)
            for k, leg in enumerate(self._legs)
            if leg.role is Role.CONTOUR
        ]

    # -- ends -----------------------------------------------------------------------------------------------------------

    def _nose(self, side: int) -> Nose:
        return Nose(Decimal(self._tip.radius), side, self._ways.arc_corners, Decimal(self._ways.small))

    def _corner(self, k: int) -> Corner:
        """The path of the nose centre at the end of a leg (of an exit: nothing)."""
        leg, here = self._legs[k], self._curves[k]
        if leg.role is Role.EXIT:
            return Corner(())
        nose = self._nose(leg.side)
        still = _still(here)
        square = Corner((here.end.minus(self._shift) if still else nose.beside(here, here.end),))
        if k + 1 == len(self._legs):
            return square
        follows, ahead = self._legs[k + 1], self._curves[k + 1]
        if leg.blind:
            if follows.role is Role.CONTOUR and (still or not _straight_on(here, ahead)):
                self._unseen.append(k)
            return square
        if follows.role is Role.CONTOUR and follows.side != leg.side:
            across = self._nose(follows.side).beside(ahead, ahead.start)
            return Corner((*square.places, across)) if leg.role is Role.CONTOUR else square
        if follows.role is Role.ENTRY or (follows.role is Role.EXIT and (self._ways.square_entry or _still(ahead))):
            return square
        self._sees_next.append(k)
        if leg.role is Role.ENTRY and (self._ways.square_entry or still):
            return Corner((nose.beside(ahead, ahead.start),))
        found = corner(nose, here, ahead)
        if found.outer and not found.back:
            self._outer.append(k)
        if not found.met:
            self._unsure.update({k: None, k + 1: None})
        if found.back:
            self._troubles.append(Trouble(Wrong.BACK, k + 1, 2 * self._tip.radius, k))
        return found

    # -- one leg ----------------------------------------------------------------------------------------------------------

    def _leg(self, k: int, before: Corner | None, after: Corner) -> tuple[tuple[Piece, ...], tuple[Curve, ...]]:
        """The pieces of a leg as the tip goes, and those that keep to the contour as the nose centre goes."""
        leg, here = self._legs[k], self._curves[k]
        straight = Kind.RAPID if leg.kind is Kind.RAPID else Kind.FEED
        into = before.places[before.split + 1 :] if before is not None else ()
        pieces: list[Piece] = []
        for place in into:
            round_kind = self._round(leg.side) if before is not None and before.about is not None else straight
            pieces.append(self._piece(round_kind, place, before.about if before is not None else None))
        if leg.role is Role.EXIT:
            return (*pieces, Piece(leg.kind if leg.centre is None else straight, leg.end)), ()
        out = after.places[1 : after.split + 1]
        start = before.places[-1] if before is not None and before.places else None
        track: list[Curve] = []
        if leg.role is Role.ENTRY or start is None:
            pieces.append(self._piece(straight, after.places[0], None))
        else:
            own, track = self._own(k, leg, here, start, after.places[0], straight)
            pieces += own
        pieces += [self._piece(straight, place, None) for place in out]
        if track:
            track += [_line(a, b) for a, b in zip(after.places, out, strict=False)]
        return tuple(pieces), tuple(track)

    def _own(
        self, k: int, leg: Leg, here: Curve, start: Vec, end: Vec, straight: Kind
    ) -> tuple[list[Piece], list[Curve]]:
        """The offset of a contour leg itself, between the places where its corners leave it."""
        if here.centre is None:
            if here.heading(here.end).dot(end.minus(start)) < 0 and end.minus(start).length() > self._least():
                self._gone(k, start, end)
            return [self._piece(leg.kind, end, None)], [_line(start, end)]
        nose = self._nose(leg.side)
        least = min(nose.round_radius(here, here.start), nose.round_radius(here, here.end))
        if not nose.fits(here):
            if least < -self._least():
                self._troubles.append(Trouble(Wrong.TIGHT, k, int(-least.to_integral_value()), k))
                self._unsure[k] = None
            else:
                self._exact_fit.append(k)
            return [self._piece(straight, end, None)], [_line(start, end)]
        pieces, track = [], []
        first = nose.beside(here, here.start)
        if self._legs[k - 1].blind and start.minus(first).length() > self._least():
            pieces, track, start = [self._piece(straight, first, None)], [_line(start, first)], first
        last = nose.beside(here, here.end)
        if self._backwards(here, (start, end), (first, last)):
            self._gone(k, start, end)
            return [*pieces, self._piece(straight, end, None)], [*track, _line(start, end)]
        if end.minus(start).length() <= _SLACK and leg.start != leg.end:
            return [*pieces, self._piece(straight, end, None)], track
        arc = Curve(start, end, here.centre, here.sense)
        return [*pieces, self._piece(leg.kind, end, here.centre)], [*track, arc]

    def _backwards(self, here: Curve, ends: tuple[Vec, Vec], square: tuple[Vec, Vec]) -> bool:
        """Whether corners leave nothing of an arc: its end would come before its start."""
        centre = here.centre
        assert centre is not None
        whole = turned(square[0].minus(centre), square[1].minus(centre), here.sense) or Decimal(4)
        near = self._least() + _SLACK
        at = [
            fixed if end.minus(own).length() <= near else turned(square[0].minus(centre), end.minus(centre), here.sense)
            for end, own, fixed in zip(ends, square, (Decimal(0), whole), strict=True)
        ]
        return at[0] > whole or at[1] > whole or (at[0] > at[1] and ends[1].minus(ends[0]).length() > near)

    def _gone(self, k: int, start: Vec, end: Vec) -> None:
        self._unsure[k] = None
        self._troubles.append(Trouble(Wrong.GONE, k, int(end.minus(start).length().to_integral_value()), k))

    def _least(self) -> Decimal:
        """Ticks below which nothing is worth a word."""
        return Decimal(self._ways.small) + _SLACK

    def _piece(self, kind: Kind, place: Vec, centre: Vec | None) -> Piece:
        about = ticks(centre.plus(self._shift)) if centre is not None else None
        return Piece(kind, ticks(place.plus(self._shift)), about)

    def _round(self, side: int) -> Kind:
        """The way round an outer corner: to the right for a nose on the left."""
        return Kind.ARC_CW if side > 0 else Kind.ARC_CCW


def _still(curve: Curve) -> bool:
    """Whether a leg has no heading: it comes from a place, or leads to one, that is not known."""
    return curve.centre is None and curve.start == curve.end


def _straight_on(here: Curve, ahead: Curve) -> bool:
    one, other = here.heading(here.end), ahead.heading(ahead.start)
    return one.cross(other) == 0 and one.dot(other) > 0


def _line(start: Vec, end: Vec) -> Curve:
    return Curve(start, end, None, 0)
