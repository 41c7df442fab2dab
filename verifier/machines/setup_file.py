"""The form of a setup sheet file: every table, key and type that one may hold."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any, Literal

from pydantic import Field

from verifier.machines.edge import (
    STATION_FORM,
    VARIABLE_FORM,
    WORK_OFFSET_FORM,
    Name,
    NotNegative,
    Positive,
    Quantity,
    Table,
    Text,
    number,
)
from verifier.machines.inserts import CORNER_ANGLE, INSERT_FORM, TWO_LENGTHS, designated
from verifier.machines.load_file import GripTable, MaterialTable, RoughnessTable
from verifier.machines.mistakes import NOTHING, Mistake, shown
from verifier.machines.outlines import Outline, Point, bad_outline, crossing
from verifier.machines.profile_file import AxisLetter
from verifier.machines.stock_file import StockTable

Station = Annotated[str, Field(pattern=STATION_FORM)]
Number = Annotated[str, Field(pattern=VARIABLE_FORM)]
WorkOffset = Annotated[str, Field(pattern=WORK_OFFSET_FORM)]

_INSERTS = ("turning", "boring")
_BLADES = ("grooving", "parting")
_ONLY_FOR = {
    "blade_width": _BLADES,
    "point_angle": ("drill",),
    "nose_radius": ("turning", "boring", "grooving", "parting", "threading"),
    "insert": _INSERTS,
    "shape": _INSERTS,
    "edge_length": _INSERTS,
    "insert_width": _INSERTS,
    "approach_angle": _INSERTS,
    "plunges": _BLADES,
    "blade_depth": _BLADES,
    "side_clearance": _BLADES,
    "flute_length": ("drill",),
    "profile_angle": ("threading",),
    "shank_diameter": ("boring",),
    "shank_axis": ("boring",),
    "reach": ("boring",),
}
"""Measures that only some kinds of tool have."""


class KeepOutTable(Table):
    """A ring, or a true half section, that nothing may enter, in work coordinates and the file's units."""

    name: Text
    kind: Literal["jaws", "soft-jaws", "tailstock", "steady", "other"] | None = None
    z_from: Quantity | None = None
    z_to: Quantity | None = None
    diameter_from: NotNegative | None = None
    diameter_to: Positive | None = None
    outline: Outline | None = None

    @classmethod
    def contradictions(cls, raw: dict[str, Any]) -> Iterator[Mistake]:
        """A zone that is inside out, without an extent, or with two."""
        for key in ("z_from", "z_to", "diameter_from", "diameter_to"):
            if "outline" in raw and key in raw:
                yield Mistake((key,), shown(raw[key]), "nothing beside an outline, which says it")
            elif "outline" not in raw and key not in raw:
                yield Mistake((key,), NOTHING, "a value")
        yield from bad_outline(raw)
        for low, high in (("z_from", "z_to"), ("diameter_from", "diameter_to")):
            start, end = number(raw, low), number(raw, high)
            if start is not None and end is not None and start >= end:
                yield Mistake((low,), shown(raw[low]), f"less than {high}, {shown(raw[high])}")


class WorkHoldingTable(Table):
    """What holds the piece."""

    kind: Literal["chuck", "collet", "chuck-and-centre", "between-centres", "face-plate", "fixture", "mandrel"]
    max_rpm: Positive | None = None
    grips: Literal["outside", "inside"] | None = None
    grip: GripTable | None = None
    note: Text | None = None
    keep_out: list[KeepOutTable] = Field(default_factory=list)

    @classmethod
    def contradictions(cls, raw: dict[str, Any]) -> Iterator[Mistake]:
        """A grip of which it is not said whether turning speed loosens or tightens it."""
        if "grip" in raw and "grips" not in raw:
            yield Mistake(("grips",), NOTHING, '"outside" or "inside", which way the jaws grip')


class ToolTable(Table):
    """The tool at one station, in the file's units; angles in degrees."""

    kind: Literal["turning", "boring", "grooving", "parting", "threading", "drill", "other"]
    nose_radius: NotNegative | None = None
    orientation: Annotated[int, Field(ge=1, le=9)] | None = None
    blade_width: Positive | None = None
    diameter: Positive | None = None
    point_angle: Positive | None = None
    hand: Literal["right", "left"] | None = None
    mounted: Literal["upright", "upside-down"] | None = None
    max_rpm: Positive | None = None
    feed_minimum: Positive | None = None
    feed_maximum: Positive | None = None
    depth_maximum: Positive | None = None
    force_maximum: Positive | None = None
    offsets: list[Annotated[int, Field(ge=1, le=999)]] = Field(default_factory=list)
    group: Text | None = None
    holder: Annotated[list[Point], Field(min_length=3)] | None = None
    note: Text | None = None
    insert: Annotated[str, Field(pattern=INSERT_FORM)] | None = None
    shape: Literal["A", "B", "C", "D", "E", "H", "K", "L", "M", "O", "P", "R", "S", "T", "V", "W"] | None = None
    edge_length: Positive | None = None
    insert_width: Positive | None = None
    approach_angle: Positive | None = None
    plunges: Literal["X", "Z"] | None = None
    blade_depth: Positive | None = None
    side_clearance: NotNegative | None = None
    flute_length: Positive | None = None
    profile_angle: Positive | None = None
    shank_diameter: Positive | None = None
    shank_axis: Positive | None = None
    reach: Positive | None = None
    from_turret_axis: Positive | None = None
    from_turret_face: Quantity | None = None
    holder_width: Positive | None = None

    @classmethod
    def contradictions(cls, raw: dict[str, Any]) -> Iterator[Mistake]:
        """Measures that a tool of this kind does not have, and measures that do not go together."""
        kind = raw.get("kind")
        for key, kinds in _ONLY_FOR.items():
            if key in raw and isinstance(kind, str) and kind not in (*kinds, "other"):
                yield Mistake((key,), shown(raw[key]), f"nothing for kind {shown(kind)}, only for {', '.join(kinds)}")
        angle, nose, blade = (number(raw, key) for key in ("point_angle", "nose_radius", "blade_width"))
        if angle is not None and angle > 180:
            yield Mistake(("point_angle",), shown(raw["point_angle"]), "an angle of 180 degrees at most")
        if nose is not None and blade is not None and 2 * nose > blade:
            yield Mistake(("nose_radius",), shown(raw["nose_radius"]), "half the blade_width at most")
        least, most = number(raw, "feed_minimum"), number(raw, "feed_maximum")
        if least is not None and most is not None and most < least:
            yield Mistake(("feed_maximum",), shown(raw["feed_maximum"]), f"not below feed_minimum, {shown(least)}")
        yield from _insert_mistakes(raw)
        yield from crossing(raw, "holder")
        profile = number(raw, "profile_angle")
        if profile is not None and profile >= 180:
            yield Mistake(("profile_angle",), shown(raw["profile_angle"]), "an angle below 180 degrees")


def _insert_mistakes(raw: dict[str, Any]) -> Iterator[Mistake]:
    """An insert whose designation and measures disagree, or whose edges do not fit at its approach angle."""
    given = raw.get("insert")
    named = designated(given) if isinstance(given, str) else None
    if named is not None and raw.get("shape", named.shape) != named.shape:
        yield Mistake(("shape",), shown(raw["shape"]), f"{shown(named.shape)}, as in {given}")
    shape = named.shape if named is not None else raw.get("shape")
    if "insert_width" in raw and isinstance(shape, str) and shape not in TWO_LENGTHS:
        wanted = f"nothing for shape {shape}, only for {', '.join(TWO_LENGTHS)}"
        yield Mistake(("insert_width",), shown(raw["insert_width"]), wanted)
    angle, corner = number(raw, "approach_angle"), CORNER_ANGLE.get(shape) if isinstance(shape, str) else None
    if angle is not None and corner is not None and angle + corner > 180:
        most = 180 - corner
        yield Mistake(("approach_angle",), shown(raw["approach_angle"]), f"{most} degrees at most for shape {shape}")
    elif angle is not None and angle >= 180:
        yield Mistake(("approach_angle",), shown(raw["approach_angle"]), "an angle below 180 degrees")


class TurretTable(Table):
    """The turret: its stations, and the ring that its tools sweep when it indexes, in the file's units."""

    stations: Annotated[int, Field(ge=2, le=99)]
    swing_radius: Positive | None = None
    swing_length: Positive | None = None

    @classmethod
    def contradictions(cls, raw: dict[str, Any]) -> Iterator[Mistake]:
        """Half of a ring."""
        for key, other in (("swing_radius", "swing_length"), ("swing_length", "swing_radius")):
            if key in raw and other not in raw:
                yield Mistake((other,), NOTHING, f"a value beside {key}")


class LimitTable(Table):
    """A drawing limit: nominal size and signed deviations, in the file's units.

    Axis X is a diameter, Z a place along Z, L a length or a width (of a groove, of a thread), R a radius or a chamfer.
    """

    axis: Literal["X", "Z", "L", "R"]
    nominal: Quantity
    upper: Quantity
    lower: Quantity
    note: Text | None = None

    @classmethod
    def contradictions(cls, raw: dict[str, Any]) -> Iterator[Mistake]:
        """Deviations the wrong way round, or a diameter, a length or a radius that is none."""
        upper, lower, nominal = (number(raw, key) for key in ("upper", "lower", "nominal"))
        if upper is not None and lower is not None and upper < lower:
            yield Mistake(("upper",), shown(raw["upper"]), f"not below the lower deviation, {shown(raw['lower'])}")
        what = {"X": "a diameter", "L": "a length", "R": "a radius"}.get(str(raw.get("axis")))
        if what is not None and nominal is not None and nominal <= 0:
            yield Mistake(("nominal",), shown(raw["nominal"]), f"{what} above 0 for axis {raw['axis']}")


class SetupTable(Table):
    """A setup sheet."""

    name: Name
    units: Literal["mm", "inch"]
    stock: StockTable | None = None
    work_holding: WorkHoldingTable | None = None
    work_offsets: dict[WorkOffset, dict[AxisLetter, Quantity]] = Field(default_factory=dict)
    variables: dict[Number, Quantity] = Field(default_factory=dict)
    tools: dict[Station, ToolTable] = Field(default_factory=dict)
    limits: list[LimitTable] = Field(default_factory=list)
    material: MaterialTable | None = None
    roughness: list[RoughnessTable] = Field(default_factory=list)
    other_channel: Annotated[int, Field(ge=1, le=99_999_999)] | None = None
    turret: TurretTable | None = None

    @classmethod
    def contradictions(cls, raw: dict[str, Any]) -> Iterator[Mistake]:
        """A tool at a station that the turret does not have."""
        turret, tools = raw.get("turret"), raw.get("tools")
        most = turret.get("stations") if isinstance(turret, dict) else None
        if not isinstance(tools, dict) or not isinstance(most, int):
            return
        for key in tools:
            if key.isascii() and key.isdecimal() and not 1 <= int(key[:9]) <= most:
                yield Mistake(("tools", key), f"station {key[:9]}", f"a station of the turret, 1 to {most}")
