"""The modal state of a lathe while a program runs: values, who set them, and where the tool is."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any, NamedTuple

from verifier.control.strokes import Kind
from verifier.control.trace import FIELDS, InForce, SetBy
from verifier.control.variables import Variables
from verifier.machines import ABSOLUTE, INCREMENTAL, TO_INITIAL, TO_R, Machine, Setup, meaning


class Coordinate(NamedTuple):
    """A position along one axis: `base` names what only the machine knows ("" = known), `ticks` is the distance from it."""

    base: str
    ticks: int

    @property
    def known(self) -> bool:
        """Whether the number alone is the position."""
        return not self.base

    def plus(self, ticks: int) -> Coordinate:
        """The position moved by `ticks`."""
        return Coordinate(self.base, self.ticks + ticks)

    def through(self, label: str) -> Coordinate:
        """The same place seen after a shift by an amount that only the machine knows."""
        return Coordinate(joined(self.base, label), self.ticks)


def joined(base: str, label: str) -> str:
    """The name of what is reached from `base` by something unknown; a loop of them does not grow a name without end."""
    if not base:
        return label
    if base.count("|") < 8 and len(base) < 400:
        return f"{base}|{label}"
    return f"{base.split('|', 1)[0][:100]}|...|{label}"


NO_SHIFT = ("", 0, "", 0)

_FEED_MODE, _FEED, _CLAMP, _FRAME, _AUXILIARIES, _LEAD_CHANGE, _START_ANGLE = (
    FIELDS.index(name) for name in ("feed_mode", "feed", "clamp", "frame", "auxiliaries", "lead_change", "start_angle")
)
"""Where these stand in `InForce`."""
_CUT_ONLY = (_FEED_MODE, _FEED)
_THREAD_ONLY = (_LEAD_CHANGE, _START_ANGLE)


@dataclass(slots=True)
class Modal:
    """The state that one block leaves to the next. `values[name]` is None where nothing established it.

    Names are those of `InForce` plus "motion" (a code), "units" ("mm" or "inch"), "surface_speed" (the last speed given under constant
    surface speed) and "lead" (F read as a thread lead, mm). `origins[name]` is the origin that set the value, -1 for what was there before
    the program.
    """

    values: dict[str, Any]
    origins: dict[str, int]
    x: Coordinate
    z: Coordinate
    variables: Variables
    x_origin: int = -1
    z_origin: int = -1
    auxiliaries: dict[str, str] = field(default_factory=dict)
    auxiliary_origin: int = -1
    version: int = 0
    """Rises with every change of a value or an auxiliary state, so that what is in force is worked out once for each."""
    cycle: dict[str, Any] = field(default_factory=dict)
    """Words that a modal single cycle keeps for the blocks that repeat it, and amounts of two-block cycles' first lines."""

    def put(self, name: str, value: Any, origin: int) -> None:
        """Set one value and remember who did."""
        self.values[name] = value
        self.origins[name] = origin
        self.version += 1

    def put_auxiliary(self, name: str, state: str, origin: int) -> None:
        """Set one auxiliary state (chuck, quill ...) and remember who did."""
        self.auxiliaries[name] = state
        self.auxiliary_origin = origin
        self.version += 1

    def in_force(self, kind: Kind, *, clamp_always: bool) -> tuple[InForce, SetBy]:
        """What governs a move now. A rapid has no feed, a thread a lead; a speed in rev/min has no clamp unless the profile says so."""
        v, o = self.values, self.origins
        values: list[Any] = [*map(v.get, FIELDS)]
        origins = [o.get(name, -1) for name in FIELDS]
        if kind is Kind.RAPID:
            for k in _CUT_ONLY:
                values[k], origins[k] = None, -1
        elif kind is Kind.THREAD:
            values[_FEED_MODE], origins[_FEED_MODE] = "lead", -1
            values[_FEED], origins[_FEED] = v.get("lead"), o.get("lead", -1)
            values[_START_ANGLE] = values[_START_ANGLE] or Fraction(0)
        if kind is not Kind.THREAD:
            for k in _THREAD_ONLY:
                values[k], origins[k] = None, -1
        if v.get("speed_mode") == "rpm" and not clamp_always:
            values[_CLAMP], origins[_CLAMP] = None, -1
        values[_FRAME] = values[_FRAME] or NO_SHIFT
        values[_AUXILIARIES] = tuple(sorted(self.auxiliaries.items()))
        origins[_AUXILIARIES] = self.auxiliary_origin
        return InForce._make(values), tuple(origins)

    def left(self) -> tuple[InForce, SetBy]:
        """The whole modal state as a program leaves it: nothing blanked."""
        values: dict[str, Any] = {name: self.values.get(name) for name in FIELDS if name != "auxiliaries"}
        values["frame"] = values["frame"] or NO_SHIFT
        values |= dict.fromkeys(FIELDS[k] for k in _THREAD_ONLY)
        state = InForce(**values, auxiliaries=tuple(sorted(self.auxiliaries.items())))
        origins = {name: self.origins.get(name, -1) for name in FIELDS} | {"auxiliaries": self.auxiliary_origin}
        return state, tuple(origins[name] for name in FIELDS)


_CODE_MEANS: dict[str, dict[str, tuple[str, str]]] = {
    "units": {"G20": ("units", "inch"), "G21": ("units", "mm")},
    "feed-mode": {"G98": ("feed_mode", "per-minute"), "G99": ("feed_mode", "per-revolution")},
    "speed-mode": {"G96": ("speed_mode", "surface"), "G97": ("speed_mode", "rpm")},
    "plane": {code: ("plane", code) for code in ("G17", "G18", "G19")},
    "compensation": {code: ("compensation", code) for code in ("G40", "G41", "G42")},
    "work-offset": {f"G{n}": ("work_offset", f"G{n}") for n in range(54, 60)},
    "motion": {code: ("motion", code) for code in ("G00", "G01")},
    "distance": {code: ("distance", code) for code in (ABSOLUTE, INCREMENTAL)},
    "return-level": {code: ("return_level", code) for code in (TO_INITIAL, TO_R)},
    "path-mode": {"G61": ("path_mode", "exact-stop"), "G64": ("path_mode", "path")},
}
"""For each modal group that a profile may name, what its codes set in `Modal.values`, by their meaning."""


def restored(machine: Machine, groups: tuple[str, ...]) -> dict[str, str]:
    """The values that a reset, a power-on or a program end puts back, for the groups named."""
    found: dict[str, str] = {}
    for group in groups:
        code = meaning(machine.power_on.get(group, ""), machine.code_set)
        sets = _CODE_MEANS.get(group, {}).get(code or "")
        if sets:
            found[sets[0]] = sets[1]
    return found


def start_state(machine: Machine, setup: Setup | None = None) -> Modal:
    """Before the first block: only what a reset restores is known; all else is not established."""
    values: dict[str, Any] = dict.fromkeys((*FIELDS, "motion", "units", "surface_speed", "lead"))
    values.update(restored(machine, machine.reset_restores))
    if values["units"] is None:
        # A control always reads numbers in some unit; at the start it is the one the profile states.
        values.update(restored(machine, ("units",)))
    if machine.code_set == "A":
        values["distance"] = ABSOLUTE  # increments have letters of their own there
    values["frame"] = NO_SHIFT
    return Modal(
        values=values,
        origins={},
        x=Coordinate("X before the program", 0),
        z=Coordinate("Z before the program", 0),
        variables=Variables(
            machine.variables,
            setup.variables if setup is not None else {},
            machine.choice("common-variables-at-end") == "cleared",
        ),
    )
