"""The strokes of a cycle as they are written down, and the bounds that every cycle keeps."""

from __future__ import annotations

from verifier.control.strokes import Beat, CycleFault, Kind, Pause, Point, Reversal, Segment, Stroke

STROKE_LIMIT = 200_000
"""No cycle is written out beyond this many strokes; what would need more is a fault, found before expanding."""


class Path:
    """Collects strokes from a starting point; a straight move to where the tool already is is left out."""

    def __init__(self, at: Point) -> None:
        self.at = at
        self._strokes: list[Beat] = []

    def move(self, kind: Kind, end: Point, step: str, centre: Point | None = None, block: int | None = None) -> None:
        """Add one move to `end`."""
        if end == self.at and not kind.arc:
            return
        self._strokes.append(Stroke(kind, end, step, centre, block))
        self.at = end

    def rapid(self, end: Point, step: str) -> None:
        """Add a rapid move to `end`."""
        self.move(Kind.RAPID, end, step)

    def feed(self, end: Point, step: str) -> None:
        """Add a straight feed move to `end`."""
        self.move(Kind.FEED, end, step)

    def pause(self, milliseconds: int, step: str) -> None:
        """Wait."""
        self._strokes.append(Pause(milliseconds, step))

    def turn_round(self, step: str) -> None:
        """Turn the spindle round."""
        self._strokes.append(Reversal(step))

    def follow(self, segments: tuple[Segment, ...], step: str) -> None:
        """Add the moves of a contour as they are programmed, each with its block."""
        for segment in segments:
            self.move(segment.kind, segment.end, step, segment.centre, segment.block)

    @property
    def strokes(self) -> tuple[Beat, ...]:
        """What has been written down so far, in order."""
        return tuple(self._strokes)


def shifted(point: Point, dx: int, dz: int) -> Point:
    """The point moved by (dx, dz) ticks."""
    return Point(point.x + dx, point.z + dz)


def shifted_segment(segment: Segment, dx: int, dz: int) -> Segment:
    """The segment moved by (dx, dz) ticks; kind and block stay."""
    centre = None if segment.centre is None else shifted(segment.centre, dx, dz)
    return Segment(segment.kind, shifted(segment.start, dx, dz), shifted(segment.end, dx, dz), segment.block, centre)


def pieces_of(distance: int, most: int) -> int:
    """How many pieces of at most `most` ticks make up `distance` (both positive; the last is what remains)."""
    return -(-distance // most)


def too_many(count: int, what: str) -> CycleFault | None:
    """The fault for a cycle that would take more strokes than the bound, or None; `what` names the likely reason."""
    if count <= STROKE_LIMIT:
        return None
    return CycleFault(
        "too-many-strokes", f"the cycle would take more than {STROKE_LIMIT} strokes ({count} counted): {what}"
    )
