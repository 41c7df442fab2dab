"""What a canned cycle is made of: strokes, and the contour that a contour cycle follows.

Lengths are ticks (1e-8 mm); X is the radius; +X away from the centre line, +Z away from the spindle.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum


class Kind(IntEnum):
    """How a move travels."""

    RAPID = 0
    FEED = 1
    ARC_CW = 2
    ARC_CCW = 3
    THREAD = 4

    @property
    def cuts(self) -> bool:
        """Whether the move is made at a feed (and may remove material)."""
        return self is not Kind.RAPID

    @property
    def arc(self) -> bool:
        """Whether the path is a circle arc."""
        return self in (Kind.ARC_CW, Kind.ARC_CCW)


@dataclass(frozen=True, slots=True)
class Point:
    """A position: X radius and Z, in ticks."""

    x: int
    z: int


@dataclass(frozen=True, slots=True)
class Stroke:
    """One move of a cycle, from wherever the stroke before it ended.

    `centre` only for arcs. `step` says which step of the cycle it is, in shop words, singular and counted
    ("level 3 of 11: cut", "peck 2 of 7: retract"). `block` is the contour block it follows, or None.
    """

    kind: Kind
    end: Point
    step: str
    centre: Point | None = None
    block: int | None = None


@dataclass(frozen=True, slots=True)
class Pause:
    """A dwell inside a cycle, in seconds as thousandths."""

    milliseconds: int
    step: str


@dataclass(frozen=True, slots=True)
class Reversal:
    """The spindle stops and turns the other way: at the bottom of a tapped hole, and again when the tap is out."""

    step: str


Beat = Stroke | Pause | Reversal
"""One thing that a cycle does."""


@dataclass(frozen=True, slots=True)
class Segment:
    """One move of a contour, as programmed: its start and end are exact, `block` is where it stands."""

    kind: Kind
    start: Point
    end: Point
    block: int
    centre: Point | None = None


@dataclass(frozen=True, slots=True)
class Contour:
    """The blocks between the two labels of a contour cycle.

    `segments[0]` is the first contour block's move, from the point where the cycle was called to the contour's first point.
    `names_both_axes` tells whether the first contour block names both X (or U) and Z (or W).
    """

    segments: tuple[Segment, ...]
    names_both_axes: bool


@dataclass(frozen=True, slots=True)
class CycleFault:
    """A cycle that cannot be expanded, with the reason for people; `code` is a stable id in words."""

    code: str
    message: str


Expansion = tuple[Beat, ...] | CycleFault
