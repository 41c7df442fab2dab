"""What the offset of a path takes and gives: programmed legs, the nose, the ways in which controls differ, pieces of path, troubles."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from verifier.control.strokes import Kind, Point

LEFT, RIGHT = 1, -1
"""The side of the contour the nose is on, seen along the way it goes (G41, G42)."""

DIRECTIONS: dict[int, tuple[int, int]] = {
    0: (0, 0), 1: (1, 1), 2: (1, -1), 3: (-1, -1), 4: (-1, 1), 5: (0, 1), 6: (1, 0), 7: (0, -1), 8: (-1, 0), 9: (0, 0),
}  # fmt: skip
"""Number of the nose direction -> where the programmed tip lies from the nose centre, in nose radii along X and Z (common practice, no source)."""


class Role(Enum):
    """What a leg is under compensation."""

    ENTRY = "entry"
    """It leads from where the tool is to the offset path."""
    CONTOUR = "contour"
    """The nose touches it from its start to its end."""
    EXIT = "exit"
    """It leads from the offset path to its programmed end."""


@dataclass(frozen=True, slots=True)
class Leg:
    """One programmed move that goes somewhere: straight, or an arc with its centre. X is the radius.

    `side` is LEFT or RIGHT. `blind`: the control does not see the leg that follows when it works out this one's end.
    """

    kind: Kind
    start: Point
    end: Point
    centre: Point | None
    role: Role
    side: int
    blind: bool = False


@dataclass(frozen=True, slots=True)
class Tip:
    """The nose: its radius in ticks, and where the programmed tip lies from its centre, in radii along X and Z."""

    radius: int
    x: int
    z: int

    @classmethod
    def of(cls, radius: int, orientation: int) -> Tip:
        """The nose of a radius in ticks and a direction number, 0 to 9."""
        return cls(radius, *DIRECTIONS[orientation])


@dataclass(frozen=True, slots=True)
class Ways:
    """Where controls differ.

    `arc_corners`: an outer corner is rounded by an arc about it, else made by straight lines. `square_entry`: entry ends, and the contour before an
    exit ends, square to the contour; else as any corner would. `small`: corner moves no longer than this many ticks are not made.
    """

    arc_corners: bool = False
    square_entry: bool = True
    small: int = 0


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of the tool's path, from wherever the piece before it ended; `centre` only for arcs."""

    kind: Kind
    end: Point
    centre: Point | None = None


class Wrong(Enum):
    """What is wrong at a leg."""

    CUTS = "the nose cuts into the contour"
    TIGHT = "the nose is larger than the arc it must fit into"
    GONE = "nothing of the leg is left: the nose would have to go backwards"
    PASSES = "the nose comes nearer than its radius to a leg far from it along the path"
    BACK = "the path turns back on itself, and the nose goes to the other side"


@dataclass(frozen=True, slots=True)
class Trouble:
    """Something wrong at a leg (its index), by how many ticks, and the leg that is cut into."""

    wrong: Wrong
    leg: int
    amount: int
    into: int


@dataclass(frozen=True, slots=True)
class Offset:
    """The tool's path: for each leg its pieces; what is wrong; and at which legs' ends a choice of `Ways` mattered.

    `outer`: legs that end at an outer corner. `sees_next`: legs whose end the leg behind them shapes. `exact_fit`: arcs that the nose just fills.
    `unsure`: legs that have no offset here, so that a control stops, or goes a way of its own. `unseen`: blind legs that another heading follows.
    """

    pieces: tuple[tuple[Piece, ...], ...]
    troubles: tuple[Trouble, ...]
    outer: tuple[int, ...]
    sees_next: tuple[int, ...]
    exact_fit: tuple[int, ...]
    unsure: tuple[int, ...]
    unseen: tuple[int, ...]
