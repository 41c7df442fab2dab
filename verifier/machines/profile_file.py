"""The form of a machine profile file: every table, key and type that one may hold."""

from __future__ import annotations

from datetime import date
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import Field, WithJsonSchema, model_validator

from verifier.machines.choices import CHOICES
from verifier.machines.edge import Name, NotNegative, Positive, Quantity, Table, Text, expected
from verifier.machines.model import GROUPS, QUANTITIES

Group = Literal["motion", "units", "feed-mode", "speed-mode", "plane", "compensation", "work-offset"]
Reset = Literal[
    "motion", "units", "feed-mode", "speed-mode", "plane", "compensation", "work-offset", "spindle", "coolant"
]
RESETS = (*GROUPS, "spindle", "coolant")
AxisLetter = Literal["X", "Z", "Y", "B", "C"]
Ends = Annotated[list[Annotated[int, Field(ge=0, le=999_999)]], Field(min_length=2, max_length=2)]
Code = Annotated[str, Field(pattern=r"^G[0-9]{1,3}(\.[0-9])?$")]

FEED_INCREMENTS = {
    "per-minute": (Fraction(1), Fraction(1, 100)),
    "per-revolution": (Fraction(1, 100), Fraction(1, 10_000)),
    "lead": (Fraction(1, 10_000), Fraction(1, 1_000_000)),
}
"""The value of F1 without a point, metric and inch, where a profile does not say. From memory; controls differ."""


def _choices_schema() -> dict[str, Any]:
    rows = {row.name: {"enum": list(row.values), "description": row.question} for row in CHOICES.values()}
    return {"type": "object", "additionalProperties": False, "properties": rows}


class AxisTable(Table):
    """One axis; lengths in the file's units (degrees for B and C), rapid per minute, acceleration per second squared,
    both of the slide.
    """

    diameter: bool = False
    minimum: Quantity | None = None
    maximum: Quantity | None = None
    rapid: Positive
    acceleration: Positive

    @model_validator(mode="after")
    def _ordered(self) -> AxisTable:
        if self.minimum is not None and self.maximum is not None and self.minimum >= self.maximum:
            raise expected("a minimum below the maximum")
        return self


class IncrementsTable(Table):
    """One least increment, in each unit system."""

    mm: Positive
    inch: Positive


class FeedIncrementsTable(Table):
    """The value of F1 without a point, by feed mode; what is left out is taken from FEED_INCREMENTS."""

    per_minute: IncrementsTable | None = Field(None, alias="per-minute")
    per_revolution: IncrementsTable | None = Field(None, alias="per-revolution")
    lead: IncrementsTable | None = None


class SpindleTable(Table):
    """The main spindle."""

    max_rpm: Positive
    power_kw: Positive | None = None
    start_seconds: NotNegative = Fraction(0)
    work_holding_limit_rpm: Positive | None = None


class CyclesTable(Table):
    """Cycle values that live in control parameters; leave out what only the program can give. Lengths in the file's
    units, in radius.
    """

    rough_retract: NotNegative | None = None
    peck_retract: NotNegative | None = None
    thread_pull_out_leads: NotNegative | None = None
    thread_min_depth: NotNegative | None = None
    thread_finish_allowance: NotNegative | None = None
    thread_finish_passes: Annotated[int, Field(ge=1, le=99)] | None = None
    thread_angle: NotNegative | None = None


class MCodeTable(Table):
    """One M code; of a built-in one only `when` may be given."""

    meaning: Text | None = None
    weight: Literal["critical", "major", "minor"] | None = None
    when: Literal["with-motion", "after-motion", "before-motion"] | None = None
    sets: dict[Name, Name] | None = None


class VariablesTable(Table):
    """First and last variable number of each kind; an empty list where the control has none. Defaults: from memory."""

    local: Ends | Annotated[list[int], Field(max_length=0)] = Field(default_factory=lambda: [1, 33])
    common: Ends | Annotated[list[int], Field(max_length=0)] = Field(default_factory=lambda: [100, 199])
    kept: Ends | Annotated[list[int], Field(max_length=0)] = Field(default_factory=lambda: [500, 999])
    system: Ends | Annotated[list[int], Field(max_length=0)] = Field(default_factory=lambda: [1000, 99_999])


class VerificationTable(Table):
    """Who checked something at the machine: a role, never a name; and the day."""

    by_role: Text
    on: date


class ProfileTable(Table):
    """A machine profile."""

    name: Name
    title: Text | None = None
    extends: Text | None = None
    kind: Literal["lathe"]
    code_set: Literal["A", "B", "C"]
    turret: Literal["rear", "front"]
    units: Literal["mm", "inch"]
    axes: dict[AxisLetter, AxisTable]
    increments: IncrementsTable
    feed_increments: FeedIncrementsTable = FeedIncrementsTable.model_validate({})
    spindle: SpindleTable
    tool_change_seconds: NotNegative
    reference: dict[AxisLetter, Quantity] = Field(default_factory=dict)
    tool_change_position: dict[AxisLetter, Quantity] = Field(default_factory=dict)
    power_on: dict[Group, Code]
    reset_restores: list[Group]
    end_resets: dict[Literal["M02", "M30", "M99"], list[Reset]]
    cycles: CyclesTable = CyclesTable()
    m_codes: dict[Annotated[str, Field(pattern=r"^[0-9]{1,5}$")], MCodeTable] = Field(default_factory=dict)
    g_codes_off: list[Code] = Field(default_factory=list)
    tool_words: Annotated[list[Annotated[int, Field(ge=1, le=8)]], Field(min_length=1)] = Field(
        default_factory=lambda: [1, 2, 3, 4, 5]
    )
    variables: VariablesTable = VariablesTable()
    longest_block: Annotated[int, Field(ge=1)] | None = None
    never_together: list[dict[Name, Name | Annotated[list[Name], Field(min_length=1)]]] = Field(default_factory=list)
    choices: Annotated[dict[str, str], WithJsonSchema(_choices_schema())] = Field(default_factory=dict)
    verified: dict[Literal[(*CHOICES, *QUANTITIES)], VerificationTable] = Field(default_factory=dict)  # type: ignore[valid-type]
