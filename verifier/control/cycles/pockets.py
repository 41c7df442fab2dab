"""Roughing of contours with pockets: each opening that a level left is followed from end to end by the next.

Seen in the frame of the cycle: outside turning toward -Z. At a level the tool goes along the higher of level and
boundary, so that it takes exactly what stands between this level and the one above. Openings are taken in the
direction of cutting, level by level. An opening that reaches the front is entered there; any other is entered from the
start's X, by rapid to the place and then down its front wall. That a control follows the contour at each level is
common practice, no source; the order of the openings and the way between them is this project's choice, because no
source says it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from verifier.control.cycles.path import Path, shifted
from verifier.control.cycles.profile import REVERSAL, Piece, Profile
from verifier.control.strokes import Kind, Point


@dataclass(frozen=True, slots=True)
class Opening:
    """A stretch of the boundary below a level: its pieces, cut off at the level; `front` if it begins at the front."""

    pieces: tuple[Piece, ...]
    front: bool

    @property
    def start(self) -> Point:
        """Where the opening begins, on the side the tool comes from."""
        return self.pieces[0].start

    @property
    def end(self) -> Point:
        """Where the opening ends."""
        return self.pieces[-1].end

    @property
    def bottom(self) -> int:
        """The lowest X in it."""
        return min(min(piece.start.x, piece.end.x) for piece in self.pieces)

    @property
    def top(self) -> int:
        """The highest X in it."""
        return max(max(piece.start.x, piece.end.x) for piece in self.pieces)


def boundary_from(front_z: int, profile: Profile) -> tuple[Piece, ...]:
    """The boundary from the Z at which the cycle infeeds: straight to the profile's first point, then the profile."""
    if front_z == profile.first.z:
        return profile.pieces
    return (Piece(Kind.FEED, Point(profile.first.x, front_z), profile.first, None, -1), *profile.pieces)


def openings(pieces: tuple[Piece, ...], upper: int) -> tuple[Opening, ...]:
    """The stretches of the boundary below X = `upper`, in the direction of cutting."""
    found: list[Opening] = []
    current: list[Piece] = []
    front = pieces[0].start.x < upper
    for piece in pieces:
        below = _below(piece, upper)
        if below is not None:
            current.append(below)
        if piece.end.x >= upper and current:
            found.append(Opening(tuple(current), front and not found))
            current = []
    if current:
        found.append(Opening(tuple(current), front and not found))
    return tuple(found)


def walk(opening: Opening, level: int) -> tuple[Piece, ...]:
    """The way along the higher of boundary and level through one opening, from its start to its end."""
    way: list[Piece] = []
    at = Point(max(level, opening.start.x), opening.start.z)
    for piece in opening.pieces:
        above = _above(piece, level)
        if above is None:
            continue
        if above.start != at:
            way.append(Piece(Kind.FEED, at, above.start, None, -1))
        way.append(above)
        at = above.end
    last = Point(max(level, opening.end.x), opening.end.z)
    if last != at:
        way.append(Piece(Kind.FEED, at, last, None, -1))
    return tuple(way)


def _below(piece: Piece, upper: int) -> Piece | None:
    """The part of a piece below `upper`, or None."""
    if min(piece.start.x, piece.end.x) >= upper:
        return None
    if piece.end.x > upper:
        return replace(piece, end=Point(upper, piece.crossing(upper)))
    if piece.start.x > upper:
        return replace(piece, start=Point(upper, piece.crossing(upper)))
    return piece


def _above(piece: Piece, level: int) -> Piece | None:
    """The part of a piece above `level`, or None."""
    if max(piece.start.x, piece.end.x) <= level:
        return None
    if piece.start.x < level:
        return replace(piece, start=Point(level, piece.crossing(level)))
    if piece.end.x < level:
        return replace(piece, end=Point(level, piece.crossing(level)))
    return piece


def cut_levels(path: Path, profile: Profile, levels: tuple[int, ...], retract: int, infeed: Kind) -> None:
    """Write down every level's way through its openings, from where the path stands: the moved start point.

    The path ends at the front, or at the start's X above the last opening.
    """
    rough = _Roughing(path, path.at, retract, infeed)
    boundary = boundary_from(path.at.z, profile)
    upper = path.at.x
    for number, level in enumerate(levels, start=1):
        step = f"level {number} of {len(levels)}"
        found = [o for o in openings(boundary, upper) if _worth_cutting(o, upper)]
        for place, opening in enumerate(found, start=1):
            name = step if len(found) == 1 else f"{step}, opening {place} of {len(found)}"
            rough.enter(opening, upper, level, name)
            way = walk(opening, level)
            rough.cut(way, level, name)
            rough.leave(opening, way[-1], name)
        upper = level


def _worth_cutting(opening: Opening, upper: int) -> bool:
    """Whether an opening is more than a rounding of the contour's numbers."""
    return opening.start.z > opening.end.z and (opening.front or upper - opening.bottom > REVERSAL)


def _room(opening: Opening, last: Piece) -> int:
    """How far the tool can go back in Z where it left the opening, without meeting a wall in front of it."""
    if last.end.x >= opening.top:
        return opening.start.z - last.end.z
    # The contour ends down in the opening: what is free in front of the tool is the flat that it has just cut.
    return last.start.z - last.end.z if last.start.x == last.end.x else 0


@dataclass(frozen=True, slots=True)
class _Roughing:
    """The path being written, the point from which the levels count, and the two amounts that every level uses."""

    path: Path
    begin: Point
    retract: int
    infeed: Kind

    def enter(self, opening: Opening, upper: int, level: int, name: str) -> None:
        """Go to where the way through the opening begins."""
        path, begin = self.path, self.begin
        if opening.front:
            path.rapid(Point(path.at.x, begin.z), f"{name}: to the front")
            path.move(self.infeed, Point(max(level, opening.start.x), begin.z), f"{name}: infeed")
            return
        path.rapid(Point(begin.x, path.at.z), f"{name}: clear in depth")
        path.rapid(Point(begin.x, opening.start.z), f"{name}: above its wall")
        path.move(self.infeed, Point(upper, opening.start.z), f"{name}: infeed")

    def cut(self, way: tuple[Piece, ...], level: int, name: str) -> None:
        """Follow the way through the opening; all of it by feed, whatever the contour's blocks say."""
        for piece in way:
            along = piece.start.x == level == piece.end.x
            kind = Kind.FEED if piece.kind is Kind.RAPID else piece.kind
            block = None if piece.block < 0 else piece.block
            step = f"{name}: cut" if along else f"{name}: along the contour"
            self.path.move(kind, piece.end, step, piece.centre, block)

    def leave(self, opening: Opening, last: Piece, name: str) -> None:
        """Retract, at 45 degrees as far as there is room, then back to the front, or to the start's X."""
        path, begin = self.path, self.begin
        room = _room(opening, last)
        path.rapid(shifted(path.at, self.retract, min(self.retract, room)), f"{name}: retract")
        if not opening.front or path.at.x < opening.top:
            path.rapid(Point(begin.x, path.at.z), f"{name}: clear in depth")
        if opening.front:
            path.rapid(Point(path.at.x, begin.z), f"{name}: back")
