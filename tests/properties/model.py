"""Lathe programs as values: what the programmer means, apart from how it is written.

Lengths are exact decimals in the program's units, X counts diameters; I and K of arcs, and depths of cycles, are radius amounts. A program is
a `Job`; `render.py` writes it in many ways, `meaning.py` says on its own what it does.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal

MM_PER_INCH = Decimal("25.4")


@dataclass(frozen=True, slots=True)
class Move:
    """A straight move to a point (None: that axis is not named), at rapid (`feed` None) or at a feed per revolution."""

    x: Decimal | None
    z: Decimal | None
    feed: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Step:
    """A straight move by an increment (X in diameter), at rapid or at a feed: what subprograms that repeat are made of."""

    u: Decimal
    w: Decimal
    feed: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Arc:
    """An arc to a point about the centre that lies `i` (radius) and `k` from its start; `r` is its exact radius, at most half a turn."""

    clockwise: bool
    x: Decimal
    z: Decimal
    i: Decimal
    k: Decimal
    r: Decimal
    feed: Decimal


@dataclass(frozen=True, slots=True)
class ThreadMove:
    """One threading move to a point with a lead."""

    x: Decimal
    z: Decimal
    lead: Decimal


@dataclass(frozen=True, slots=True)
class Dwell:
    """A dwell in thousandths of a second."""

    milliseconds: int


@dataclass(frozen=True, slots=True)
class Stop:
    """A stop (0) or an optional stop (1)."""

    code: int


@dataclass(frozen=True, slots=True)
class Coolant:
    """Coolant on or off."""

    on: bool


@dataclass(frozen=True, slots=True)
class Speed:
    """Another speed in the mode that is in force."""

    value: Decimal


@dataclass(frozen=True, slots=True)
class Code:
    """Any other M code, by its number."""

    number: int


@dataclass(frozen=True, slots=True)
class Turn:
    """G90: one pass to each of these diameters, to one Z. `taper` is a radius amount, cut start minus cut end."""

    diameters: tuple[Decimal, ...]
    z: Decimal
    taper: Decimal
    feed: Decimal


@dataclass(frozen=True, slots=True)
class Face:
    """G94: one pass to each of these Z, to one diameter. `taper` along Z."""

    places: tuple[Decimal, ...]
    x: Decimal
    taper: Decimal
    feed: Decimal


@dataclass(frozen=True, slots=True)
class ThreadPasses:
    """G92: one threading pass to each of these diameters."""

    diameters: tuple[Decimal, ...]
    z: Decimal
    lead: Decimal


@dataclass(frozen=True, slots=True)
class Groove:
    """G75 (grooves along X), or G74 (pecks along Z) where `along_z`: `peck` and `step` are radius amounts or along Z."""

    x: Decimal
    z: Decimal
    peck: Decimal
    step: Decimal | None
    retract: Decimal
    feed: Decimal
    along_z: bool = False


@dataclass(frozen=True, slots=True)
class ThreadCycle:
    """G76: root diameter, end, height, first pass, and the rest; radius amounts."""

    x: Decimal
    z: Decimal
    height: Decimal
    first: Decimal
    minimum: Decimal
    allowance: Decimal
    finish_passes: int
    pull_out_tenths: int
    angle: int
    lead: Decimal
    of_profile: bool = False
    """Whether minimum, allowance, passes and pull-out are those of the machine profile (so that the one-block form says the same)."""


@dataclass(frozen=True, slots=True)
class Rough:
    """G71 or G72 (`along_x`) or G73 (`passes` and escapes given) over a contour; `finish`: G70 follows at once."""

    contour: tuple[Op, ...]
    label: int
    allowance_x: Decimal
    allowance_z: Decimal
    feed: Decimal
    depth: Decimal = Decimal(0)
    retract: Decimal = Decimal(0)
    along_x: bool = False
    passes: int = 0
    escape_x: Decimal = Decimal(0)
    escape_z: Decimal = Decimal(0)
    finish: bool = False


@dataclass(frozen=True, slots=True)
class Call:
    """A subprogram called a number of times."""

    number: int
    times: int


@dataclass(frozen=True, slots=True)
class Skipped:
    """What stands behind a block skip mark of that level (0: a bare slash). Operations of one block only."""

    op: Op
    level: int


Op = (
    Move | Step | Arc | ThreadMove | Dwell | Stop | Coolant | Speed | Code | Turn | Face | ThreadPasses | Groove | ThreadCycle | Rough | Call
    | Skipped
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Sequence:
    """One tool's part: how it is opened, what it does, and how it is left. `clamp` only with constant surface speed."""

    number: int
    note: str
    tool: int
    offset: int
    surface: bool
    speed: Decimal
    clamp: Decimal | None
    sense: str
    approach: tuple[Decimal, Decimal]
    ops: tuple[Op, ...]
    away: tuple[Decimal, Decimal]
    coolant: bool = True
    home: bool = False
    stop: int | None = 1
    work_offset: str | None = None


@dataclass(frozen=True, slots=True)
class Job:
    """A whole program. `repeats`: it ends with M99 and starts again, else with M30."""

    number: int
    units: str
    sequences: tuple[Sequence, ...]
    subprograms: dict[int, tuple[Op, ...]] = field(default_factory=dict)
    repeats: bool = False
