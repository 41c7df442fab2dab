"""What this machine is: exact quantities, resolved choices and who verified them, as frozen values.

Lengths are millimetres as exact Fractions. Positions of an axis in diameters (travel limits, reference, tool change
position) are diameters, as the control shows them; its rapid rate and acceleration are those of the slide itself.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from verifier.machines.choices import CHOICES

DISTANCE_GROUPS = ("distance", "return-level")
"""Modal groups that only code sets B and C have; a profile may leave them out, and then nothing is known of them at the start."""

GROUPS = ("motion", "units", "feed-mode", "speed-mode", "plane", "compensation", "work-offset", *DISTANCE_GROUPS)
"""The modal groups that `power_on` gives a code for."""

QUANTITIES = (
    "travels",
    "rapids",
    "accelerations",
    "increments",
    "feed-increments",
    "spindle",
    "reference",
    "tool-change-position",
    "power-on",
    "reset-restores",
    "end-resets",
    "cycle-parameters",
    "m-codes",
    "variables",
)
"""Parts of a profile, beside the choices, that somebody can have verified at the machine."""


@dataclass(frozen=True, slots=True)
class Axis:
    """One linear axis: travel limits in mm (machine coordinates, None where unknown), rapid in mm/min and
    acceleration in mm/s2 of the slide.
    """

    letter: str
    diameter: bool
    minimum: Fraction | None
    maximum: Fraction | None
    rapid: Fraction
    acceleration: Fraction


@dataclass(frozen=True, slots=True)
class Increments:
    """The length of one least increment, each in its own unit: `mm` in mm, `inch` in inches (in diameter for an axis
    in diameters).
    """

    mm: Fraction
    inch: Fraction


@dataclass(frozen=True, slots=True)
class Spindle:
    """The main spindle: greatest speed, power of its motor in kW, seconds from rest to its greatest speed, and the speed limit of the
    work-holding where one is marked.

    `efficiency` is the share of the motor's power that arrives at the cut; the full power is there from `base_rpm` on, and below it as much as
    the speed is of that; `torque_nm` is the greatest torque at the spindle, `stop_seconds` the time from its greatest speed to rest. None where
    the profile does not say.
    """

    max_rpm: Fraction
    power_kw: Fraction | None
    start_seconds: Fraction
    work_holding_limit_rpm: Fraction | None
    efficiency: Fraction | None = None
    base_rpm: Fraction | None = None
    torque_nm: Fraction | None = None
    stop_seconds: Fraction | None = None


@dataclass(frozen=True, slots=True)
class CycleParameters:
    """Cycle values that live in control parameters; None where only the program can give the value. Lengths in mm
    (radius), leads as a fraction.
    """

    rough_retract_mm: Fraction | None
    peck_retract_mm: Fraction | None
    drill_retract_mm: Fraction | None
    thread_pull_out_leads: Fraction | None
    thread_min_depth_mm: Fraction | None
    thread_finish_allowance_mm: Fraction | None
    thread_finish_passes: int | None
    thread_angle: Fraction | None


@dataclass(frozen=True, slots=True)
class MCode:
    """What one M code does: its meaning, how much its change weighs, when it acts, and the auxiliary states it sets
    as (name, state) pairs.
    """

    code: int
    meaning: str
    weight: str
    when: str
    sets: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class VariableRanges:
    """First and last number of each kind of variable (both included), None where the control has none of that kind."""

    local: tuple[int, int] | None
    common: tuple[int, int] | None
    kept: tuple[int, int] | None
    system: tuple[int, int] | None

    def kind_of(self, number: int) -> str | None:
        """The kind a variable number belongs to: "local", "common", "kept", "system", or None where it belongs to
        none.
        """
        for kind in ("local", "common", "kept", "system"):
            ends = getattr(self, kind)
            if ends is not None and ends[0] <= number <= ends[1]:
                return kind
        return None


@dataclass(frozen=True, slots=True)
class Verification:
    """Who checked a choice at the machine (a role, never a name) and on which day."""

    by_role: str
    on: date


@dataclass(frozen=True, slots=True)
class Machine:
    """A machine profile, fully resolved: nothing in it is left to be defaulted by a reader.

    `feed_increments[mode][unit]` is the value of F1 without a point, in that unit per minute or per revolution; modes
    are "per-minute", "per-revolution" and "lead" (threads). `tool_words` are the digit counts a T word may have.
    `spindle_selectors` are the spindles that a P beside S or M03 chooses ("main", or a name); `wait_codes` the ranges of M codes at which
    two channels wait for each other. `calls` are codes ("G101", "M96") that call a program: a G code with arguments as G65 does, an M code as
    M98 does; `label_calls` M codes that call the block which P names.
    `never_together` holds pairs of auxiliary states. `reset_restores` are the groups that a reset or a
    program start puts back to `power_on`: every other group starts unknown. `digest` is the SHA-256 of the resolved content, in hexadecimal.
    """

    name: str
    title: str
    kind: str
    code_set: str
    turret: str
    axes: Mapping[str, Axis]
    increments: Increments
    feed_increments: Mapping[str, Mapping[str, Fraction]]
    spindle: Spindle
    tool_change_seconds: Fraction
    reference: Mapping[str, Fraction | None]
    tool_change_position: Mapping[str, Fraction | None]
    power_on: Mapping[str, str]
    reset_restores: tuple[str, ...]
    end_resets: Mapping[str, tuple[str, ...]]
    cycles: CycleParameters
    m_codes: Mapping[int, MCode]
    spindle_selectors: Mapping[int, str]
    wait_codes: tuple[tuple[int, int], ...]
    calls: Mapping[str, int]
    label_calls: tuple[int, ...]
    g_codes_off: tuple[str, ...]
    tool_words: tuple[int, ...]
    variables: VariableRanges
    longest_block: int | None
    never_together: tuple[tuple[tuple[str, str], tuple[str, str]], ...]
    choices: Mapping[str, str]
    verified: Mapping[str, Verification]
    digest: str

    def choice(self, name: str) -> str:
        """The value this machine has for a choice; KeyError where no such choice exists."""
        return self.choices[name]

    def is_verified(self, name: str) -> bool:
        """Whether somebody verified this choice, or this one of QUANTITIES, at the machine; KeyError where no such
        name exists.
        """
        if name not in CHOICES and name not in QUANTITIES:
            raise KeyError(name)
        return name in self.verified
