"""A mirror in which every cycle becomes one kind: outside, toward the centre line and toward the spindle.

Bores, negative X, the other Z direction and the facing twins of turning cycles are the same motion seen in a mirror or
with X and Z exchanged. Writing each cycle once, and looking at it through a frame, makes those laws hold by
construction. Arc sense: seen with +Z to the right and +X up, `ARC_CCW` turns counter-clockwise.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from verifier.control.strokes import Beat, Contour, Kind, Point, Segment, Stroke

_TURNED = {Kind.ARC_CW: Kind.ARC_CCW, Kind.ARC_CCW: Kind.ARC_CW}


def sign(value: int) -> int:
    """+1 for zero and above, -1 below: the side a distance lies on."""
    return -1 if value < 0 else 1


@dataclass(frozen=True, slots=True)
class Frame:
    """How to look at a cycle: exchange X and Z first (`swapped`), then turn the signs of the two axes (+1 or -1)."""

    swapped: bool
    x_sign: int
    z_sign: int

    @property
    def reverses(self) -> bool:
        """Whether clockwise becomes counter-clockwise in this frame."""
        return self.swapped is not (self.x_sign != self.z_sign)

    def seen(self, point: Point) -> Point:
        """The machine's point as it appears in the frame."""
        x, z = (point.z, point.x) if self.swapped else (point.x, point.z)
        return Point(x * self.x_sign, z * self.z_sign)

    def real(self, point: Point) -> Point:
        """The frame's point as the machine has it."""
        x, z = point.x * self.x_sign, point.z * self.z_sign
        return Point(z, x) if self.swapped else Point(x, z)

    def kind(self, kind: Kind) -> Kind:
        """The kind of a move as it appears in the frame, or back (the exchange is its own inverse)."""
        return _TURNED.get(kind, kind) if self.reverses else kind

    def seen_contour(self, contour: Contour) -> Contour:
        """The whole contour as it appears in the frame."""
        return replace(contour, segments=tuple(self._seen_segment(s) for s in contour.segments))

    def real_strokes(self, strokes: tuple[Beat, ...]) -> tuple[Beat, ...]:
        """Strokes made in the frame, as the machine has them."""
        return tuple(self._real_stroke(s) if isinstance(s, Stroke) else s for s in strokes)

    def _seen_segment(self, segment: Segment) -> Segment:
        centre = None if segment.centre is None else self.seen(segment.centre)
        return Segment(self.kind(segment.kind), self.seen(segment.start), self.seen(segment.end), segment.block, centre)

    def _real_stroke(self, stroke: Stroke) -> Stroke:
        centre = None if stroke.centre is None else self.real(stroke.centre)
        return Stroke(self.kind(stroke.kind), self.real(stroke.end), stroke.step, centre, stroke.block)


PLAIN = Frame(swapped=False, x_sign=1, z_sign=1)
EXCHANGED = Frame(swapped=True, x_sign=1, z_sign=1)
