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
from verifier.machines.mistakes import NOTHING, Mistake, shown
from verifier.machines.profile_file import AxisLetter

Station = Annotated[str, Field(pattern=STATION_FORM)]
Number = Annotated[str, Field(pattern=VARIABLE_FORM)]
WorkOffset = Annotated[str, Field(pattern=WORK_OFFSET_FORM)]
Point = Annotated[list[Quantity], Field(min_length=2, max_length=2)]


_ONLY_FOR = {
    "blade_width": ("grooving", "parting"),
    "point_angle": ("drill",),
    "nose_radius": ("turning", "boring", "grooving", "parting", "threading"),
}
"""Measures that only some kinds of tool have."""


class StockTable(Table):
    """The raw piece, in the file's units."""

    kind: Literal["bar", "tube"]
    diameter: Positive
    inner: Positive | None = None
    length: Positive
    face_z: Quantity

    @classmethod
    def contradictions(cls, raw: dict[str, Any]) -> Iterator[Mistake]:
        """A bar with a bore, a tube without one, or a bore as large as the piece."""
        inner, outer = number(raw, "inner"), number(raw, "diameter")
        if raw.get("kind") == "tube" and "inner" not in raw:
            yield Mistake(("inner",), NOTHING, "the inner diameter of the tube")
        elif raw.get("kind") == "bar" and "inner" in raw:
            yield Mistake(("inner",), shown(raw["inner"]), 'nothing for a bar (kind "tube" has an inner diameter)')
        elif inner is not None and outer is not None and inner >= outer:
            yield Mistake(("inner",), shown(raw["inner"]), f"less than the diameter, {shown(raw['diameter'])}")


class KeepOutTable(Table):
    """A ring that nothing may enter, in work coordinates and the file's units."""

    name: Text
    z_from: Quantity
    z_to: Quantity
    diameter_from: NotNegative
    diameter_to: Positive

    @classmethod
    def contradictions(cls, raw: dict[str, Any]) -> Iterator[Mistake]:
        """A zone that is inside out."""
        for low, high in (("z_from", "z_to"), ("diameter_from", "diameter_to")):
            start, end = number(raw, low), number(raw, high)
            if start is not None and end is not None and start >= end:
                yield Mistake((low,), shown(raw[low]), f"less than {high}, {shown(raw[high])}")


class WorkHoldingTable(Table):
    """What holds the piece."""

    kind: Literal["chuck", "collet", "chuck-and-centre", "between-centres", "face-plate", "fixture", "mandrel"]
    max_rpm: Positive | None = None
    grips: Literal["outside", "inside"] | None = None
    note: Text | None = None
    keep_out: list[KeepOutTable] = Field(default_factory=list)


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
    holder: Annotated[list[Point], Field(min_length=3)] | None = None
    note: Text | None = None

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


class LimitTable(Table):
    """A drawing limit: nominal size and signed deviations, in the file's units; a diameter for axis X."""

    axis: Literal["X", "Z"]
    nominal: Quantity
    upper: Quantity
    lower: Quantity
    note: Text | None = None

    @classmethod
    def contradictions(cls, raw: dict[str, Any]) -> Iterator[Mistake]:
        """Deviations the wrong way round, or a diameter that is none."""
        upper, lower, nominal = (number(raw, key) for key in ("upper", "lower", "nominal"))
        if upper is not None and lower is not None and upper < lower:
            yield Mistake(("upper",), shown(raw["upper"]), f"not below the lower deviation, {shown(raw['lower'])}")
        if raw.get("axis") == "X" and nominal is not None and nominal <= 0:
            yield Mistake(("nominal",), shown(raw["nominal"]), "a diameter above 0 for axis X")


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
    other_channel: Annotated[int, Field(ge=1, le=99_999_999)] | None = None
