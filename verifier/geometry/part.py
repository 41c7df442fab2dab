"""The turned part as a value: what every move took off the stock, what it met, what is left at the end, and what could not be computed."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from verifier.geometry.section import Meeting
from verifier.machines import KeepOut, Stock

RAPID_INTO_MATERIAL = "rapid into material"
INTO_KEEP_OUT = "into a keep-out"
BODY_INTO_KEEP_OUT = "holder or shank into a keep-out"
BODY_INTO_MATERIAL = "holder or shank into material"
BLADE_SIDEWAYS = "blade moved sideways"
DRILL_PAST_FLUTE = "drill past its flute"
CUT_FREE = "work cut free"
LOOSE_PIECE_MET = "a loose piece met"
BORE_LEFT_SIDEWAYS = "bore left sideways"
NEIGHBOUR_MET = "a neighbouring tool met"
SWING_MET = "the swing of an index met"
CHANGE_NEAR = "tool changed near"
AT_CHANGES = (SWING_MET, CHANGE_NEAR)
"""Contacts of a tool change: `move` is how many moves were made before it, and of CHANGE_NEAR the amount is how far away something is."""
CRASHES = (
    RAPID_INTO_MATERIAL, BORE_LEFT_SIDEWAYS, BODY_INTO_MATERIAL, INTO_KEEP_OUT, BODY_INTO_KEEP_OUT, NEIGHBOUR_MET, SWING_MET,
)  # fmt: skip
"""Contacts that may break a tool or tear the piece out: what is left behind one is not certain."""


@dataclass(frozen=True, slots=True)
class Contact:
    """Something that a move must not meet: `kind`, the move's number, with what ("" for the piece), where, and by how much (mm)."""

    kind: str
    move: int
    what: str
    amount: float
    where: Meeting | None = None


@dataclass(frozen=True, slots=True)
class Gap:
    """Something of the part that could not be computed: the first block it is about, the reason, how many moves (0: the part as a whole).

    `cuts` tells whether the finished part is uncertain for it.
    """

    block: int | None
    what: str
    reason: str
    count: int
    cuts: bool


@dataclass(frozen=True, slots=True)
class ThreadPass:
    """One pass of a thread: the move's number, its ends in (Z, radius) and mm, and what makes the helix."""

    move: int
    start: tuple[float, float]
    end: tuple[float, float]
    lead: Fraction
    lead_change: Fraction | None
    start_angle: Fraction | None
    sense: str | None
    inside: bool


@dataclass(frozen=True, eq=False)
class TurnedPart:
    """What the moves of a trace do to the stock. Columns are by move: `area` mm2 of half section and `volume` mm3 taken off, `across` mm.

    `across` is the stretch of the material taken off, measured across the direction of the move: the depth of cut of a turning pass, the width
    of a plunge. `depth` is the same where the cut is deepest, as the mean over half a millimetre of the way: without the last wedge at a
    shoulder. `stock` and `left` are the half sections at the start and at the end, in (Z, radius) and mm; `threads` the passes that cut
    threads into what is left. `unswept` are the moves at a feed that may take material off and could not be swept.
    """

    area: NDArray[np.float64]
    volume: NDArray[np.float64]
    across: NDArray[np.float64]
    depth: NDArray[np.float64]
    unswept: NDArray[np.bool_]
    left: shapely.Geometry
    stock: shapely.Geometry
    threads: tuple[ThreadPass, ...]
    contacts: tuple[Contact, ...]
    gaps: tuple[Gap, ...]
    loose: tuple[shapely.Geometry, ...] = ()
    """Of what is left, the pieces that were cut free from what is held."""

    @cached_property
    def certain(self) -> bool:
        """Whether every cutting move was swept, and nothing was met that may have broken a tool or torn the piece out."""
        return not any(gap.cuts for gap in self.gaps) and not any(found.kind in CRASHES for found in self.contacts)


def stock_section(stock: Stock) -> shapely.Geometry:
    """The half section of the raw piece."""
    if stock.outline:
        return shapely.make_valid(shapely.polygons([(float(z), float(x) / 2) for x, z in stock.outline]))
    inner = float(stock.inner) / 2 if stock.inner is not None else 0.0
    return shapely.box(float(stock.face_z - stock.length), inner, float(stock.face_z), float(stock.diameter) / 2)


def zone_section(zone: KeepOut) -> shapely.Geometry:
    """The half section of a keep-out."""
    if zone.outline:
        return shapely.make_valid(shapely.polygons([(float(z), float(x) / 2) for x, z in zone.outline]))
    return shapely.box(float(zone.z_from), float(zone.diameter_from) / 2, float(zone.z_to), float(zone.diameter_to) / 2)


def doubts_of(stock: Stock) -> tuple[Gap, ...]:
    """What is not certain of a stock that an earlier operation left."""
    if stock.came_from is None:
        return ()
    said = ((stock.came_from.uncertain, True), (stock.came_from.doubts, False))
    return tuple(Gap(None, "the stock", reason, 0, cuts) for reasons, cuts in said for reason in reasons)
