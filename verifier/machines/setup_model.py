"""What stands on the machine for one job: stock, work-holding, offsets, tools and drawing limits, as frozen values.

Lengths are millimetres as exact Fractions. X values (work offsets, limits, keep-out zones) are diameters where the
axis is.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True, slots=True)
class Stock:
    """The raw piece: "bar" or "tube", outer and inner diameter, length, and Z of its front face in work coordinates."""

    kind: str
    diameter: Fraction
    inner: Fraction | None
    length: Fraction
    face_z: Fraction


@dataclass(frozen=True, slots=True)
class KeepOut:
    """A zone that nothing may enter, in work coordinates: a ring between two diameters and two Z positions."""

    name: str
    z_from: Fraction
    z_to: Fraction
    diameter_from: Fraction
    diameter_to: Fraction


@dataclass(frozen=True, slots=True)
class WorkHolding:
    """What holds the piece: its kind, the speed limit marked on it, which way it grips, a note, and zones to keep out
    of.
    """

    kind: str
    max_rpm: Fraction | None
    grips: str | None
    note: str
    keep_out: tuple[KeepOut, ...]


@dataclass(frozen=True, slots=True)
class Tool:
    """The tool at one station; what the sheet does not say is None and is never invented.

    `orientation` is the number of the nose direction, 1 to 9; `point_angle` is the full angle of a drill point in
    degrees; `hand` is "right" or "left"; `mounted` is "upright" or "upside-down". `feed_minimum` is the least feed
    per revolution at which its swarf breaks. `holder` is the holder's outline as
    (X radius, Z) points relative to the programmed point.
    """

    station: int
    kind: str
    nose_radius: Fraction | None = None
    orientation: int | None = None
    blade_width: Fraction | None = None
    diameter: Fraction | None = None
    point_angle: Fraction | None = None
    hand: str | None = None
    mounted: str | None = None
    max_rpm: Fraction | None = None
    feed_minimum: Fraction | None = None
    holder: tuple[tuple[Fraction, Fraction], ...] = ()
    note: str = ""


@dataclass(frozen=True, slots=True)
class Limit:
    """A drawing limit: nominal size (a diameter for axis "X") and its upper and lower deviation, signed, all in mm."""

    axis: str
    nominal: Fraction
    upper: Fraction
    lower: Fraction
    note: str = ""


@dataclass(frozen=True, slots=True)
class Setup:
    """A setup sheet. `work_offsets` gives machine positions by code ("G54") and axis; `tools` are by station;
    `digest` is of the content.
    """

    name: str
    stock: Stock | None
    work_holding: WorkHolding | None
    work_offsets: Mapping[str, Mapping[str, Fraction]]
    variables: Mapping[int, Fraction]
    tools: Mapping[int, Tool]
    limits: tuple[Limit, ...]
    digest: str
    other_channel: int | None = None
    """The number of the program that the machine's other channel runs with this job."""
