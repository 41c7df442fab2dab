"""The form of a setup sheet file: every table, key and type that one may hold."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from verifier.machines.edge import Name, NotNegative, Positive, Quantity, Table, Text, expected
from verifier.machines.profile_file import AxisLetter

Station = Annotated[str, Field(pattern=r"^[0-9]{1,4}$")]
Number = Annotated[str, Field(pattern=r"^[0-9]{1,6}$")]
WorkOffset = Annotated[str, Field(pattern=r"^G5[4-9](\.1P[0-9]{1,3})?$")]
Point = Annotated[list[Quantity], Field(min_length=2, max_length=2)]


class StockTable(Table):
    """The raw piece, in the file's units."""

    kind: Literal["bar", "tube"]
    diameter: Positive
    inner: Positive | None = None
    length: Positive
    face_z: Quantity

    @model_validator(mode="after")
    def _hollow(self) -> StockTable:
        if (self.kind == "tube") != (self.inner is not None):
            raise expected("an inner diameter for a tube, and none for a bar")
        if self.inner is not None and self.inner >= self.diameter:
            raise expected("an inner diameter below the outer one")
        return self


class KeepOutTable(Table):
    """A ring that nothing may enter, in work coordinates and the file's units."""

    name: Text
    z_from: Quantity
    z_to: Quantity
    diameter_from: NotNegative
    diameter_to: Positive

    @model_validator(mode="after")
    def _ordered(self) -> KeepOutTable:
        if self.z_from >= self.z_to or self.diameter_from >= self.diameter_to:
            raise expected("z_from below z_to and diameter_from below diameter_to")
        return self


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
    holder: Annotated[list[Point], Field(min_length=3)] | None = None
    note: Text | None = None

    @model_validator(mode="after")
    def _fits_kind(self) -> ToolTable:
        if self.blade_width is not None and self.kind not in ("grooving", "parting", "other"):
            raise expected("a blade_width only for grooving and parting")
        if self.point_angle is not None and (self.kind not in ("drill", "other") or self.point_angle > 180):
            raise expected("a point_angle only for a drill, and of 180 degrees at most")
        if self.kind == "drill" and self.nose_radius is not None:
            raise expected("no nose_radius for a drill")
        if self.blade_width is not None and self.nose_radius is not None and 2 * self.nose_radius > self.blade_width:
            raise expected("a nose_radius of at most half the blade_width")
        return self


class LimitTable(Table):
    """A drawing limit: nominal size and signed deviations, in the file's units; a diameter for axis X."""

    axis: Literal["X", "Z"]
    nominal: Quantity
    upper: Quantity
    lower: Quantity
    note: Text | None = None

    @model_validator(mode="after")
    def _ordered(self) -> LimitTable:
        if self.upper < self.lower:
            raise expected("an upper deviation that is not below the lower one")
        if self.axis == "X" and self.nominal <= 0:
            raise expected("a nominal diameter above 0 for axis X")
        return self


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
