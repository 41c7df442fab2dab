"""The form of a machine profile file: every table, key and type that one may hold."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import Field, WithJsonSchema

from verifier.machines.choices import CHOICES
from verifier.machines.cross import cross_checks
from verifier.machines.edge import (
    CALL_FORM,
    CODE_FORM,
    M_CODE_FORM,
    Ends,
    Name,
    Names,
    NotNegative,
    Positive,
    Quantity,
    Share,
    Table,
    Text,
    number,
)
from verifier.machines.mistakes import NOTHING, Mistake, shown
from verifier.machines.model import GROUPS, QUANTITIES

Group = Literal[
    "motion", "units", "feed-mode", "speed-mode", "plane", "compensation", "work-offset", "distance", "return-level"
]
Reset = Literal[
    "motion", "units", "feed-mode", "speed-mode", "plane", "compensation", "work-offset", "distance", "return-level",
    "spindle", "coolant",
]  # fmt: skip
RESETS = (*GROUPS, "spindle", "coolant")
AxisLetter = Literal["X", "Z", "Y", "B", "C"]
Code = Annotated[str, Field(pattern=CODE_FORM)]
ProgramNumber = Annotated[int, Field(ge=1, le=99_999_999)]

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

    @classmethod
    def contradictions(cls, raw: dict[str, Any]) -> Iterator[Mistake]:
        """Travel limits the wrong way round."""
        low, high = number(raw, "minimum"), number(raw, "maximum")
        if low is not None and high is not None and low >= high:
            yield Mistake(("minimum",), shown(raw["minimum"]), f"a number below the maximum, {shown(raw['maximum'])}")


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
    """The main spindle; `start_seconds` from rest to its greatest speed, `stop_seconds` back to rest (left out: as long as that)."""

    max_rpm: Positive
    power_kw: Positive | None = None
    start_seconds: NotNegative = Fraction(0)
    work_holding_limit_rpm: Positive | None = None
    efficiency: Share | None = None
    base_rpm: Positive | None = None
    torque_nm: Positive | None = None
    stop_seconds: NotNegative | None = None

    @classmethod
    def contradictions(cls, raw: dict[str, Any]) -> Iterator[Mistake]:
        """A speed of full power without a power, or one that the spindle never reaches."""
        base, most = number(raw, "base_rpm"), number(raw, "max_rpm")
        if "base_rpm" in raw and "power_kw" not in raw:
            yield Mistake(("power_kw",), NOTHING, "the power that is there from base_rpm on")
        if base is not None and most is not None and base >= most:
            yield Mistake(("base_rpm",), shown(raw["base_rpm"]), f"a speed below max_rpm, {shown(raw['max_rpm'])}")


class CyclesTable(Table):
    """Cycle values that live in control parameters; leave out what only the program can give. Lengths in the file's
    units, in radius.
    """

    rough_retract: NotNegative | None = None
    peck_retract: NotNegative | None = None
    drill_retract: NotNegative | None = None
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

    local: Ends = Field(default_factory=lambda: [1, 33])
    common: Ends = Field(default_factory=lambda: [100, 199])
    kept: Ends = Field(default_factory=lambda: [500, 999])
    system: Ends = Field(default_factory=lambda: [1000, 99_999])


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
    m_codes: dict[Annotated[str, Field(pattern=M_CODE_FORM)], MCodeTable] = Field(default_factory=dict)
    spindle_selectors: dict[Annotated[str, Field(pattern=M_CODE_FORM)], Name] = Field(default_factory=dict)
    wait_codes: list[Ends] = Field(default_factory=list)
    calls: dict[Annotated[str, Field(pattern=CALL_FORM)], ProgramNumber] = Field(default_factory=dict)
    label_calls: list[Annotated[int, Field(ge=3, le=99_999)]] = Field(default_factory=list)
    g_codes_off: list[Code] = Field(default_factory=list)
    tool_words: Annotated[list[Annotated[int, Field(ge=1, le=8)]], Field(min_length=1)] = Field(
        default_factory=lambda: [1, 2, 3, 4, 5]
    )
    variables: VariablesTable = VariablesTable()
    longest_block: Annotated[int, Field(ge=1)] | None = None
    never_together: list[dict[Name, Names]] = Field(default_factory=list)
    choices: Annotated[dict[str, str], WithJsonSchema(_choices_schema())] = Field(default_factory=dict)
    verified: dict[Literal[(*CHOICES, *QUANTITIES)], VerificationTable] = Field(default_factory=dict)  # type: ignore[valid-type]

    @classmethod
    def contradictions(cls, raw: dict[str, Any]) -> Iterator[Mistake]:
        """Everything the tables of a profile say against each other."""
        yield from cross_checks(raw)
