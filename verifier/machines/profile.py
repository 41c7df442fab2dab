"""Machine profiles: a TOML file, laid over the one it extends, checked completely, and turned into a frozen Machine."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any

from verifier.machines.checking import checked
from verifier.machines.choices import CHOICES
from verifier.machines.cross import call_code, full_code
from verifier.machines.edge import UNIT_LENGTH
from verifier.machines.frozen import FrozenMap
from verifier.machines.mcodes import ORDERED_BY_CHOICE, STANDARD
from verifier.machines.mistakes import NOTHING, Mistake, nearest, shown
from verifier.machines.model import (
    GROUPS,
    Axis,
    CycleParameters,
    Increments,
    Machine,
    MCode,
    Spindle,
    VariableRanges,
    Verification,
)
from verifier.machines.profile_file import FEED_INCREMENTS, RESETS, AxisTable, ProfileTable
from verifier.machines.reading import content_digest, parse_toml, read_toml
from verifier.source import MachineError

BUILT_IN = ("generic-lathe",)
_OWN_KEYS = ("name", "title", "extends", "verified")
_ROTARY = ("B", "C")


def load_machine(path: str | Path) -> Machine:
    """The machine that a profile file describes; MachineError with every mistake of the file and of the one it
    extends.
    """
    path = Path(path)
    return _machine(read_toml(path), str(path), path.parent)


def parse_machine(data: bytes, label: str) -> Machine:
    """The machine that a profile's bytes describe; it may extend a built-in profile only. MachineError as in `load_machine`."""
    return _machine(parse_toml(data, label), label, None)


@cache
def generic_lathe() -> Machine:
    """The built-in lathe that is assumed where nobody names one; nothing about it is verified."""
    return _machine(_built_in("generic-lathe"), "generic-lathe", None)


def _built_in(name: str) -> dict[str, Any]:
    data = resources.files("verifier.machines").joinpath(f"{name}.toml").read_bytes()
    return parse_toml(data, name)


@dataclass(frozen=True, slots=True)
class _Base:
    """The profile that another extends: its label, its content (empty where it cannot be had), and the lines of its
    mistakes.
    """

    label: str
    content: dict[str, Any]
    lines: tuple[str, ...]


def _machine(raw: dict[str, Any], label: str, folder: Path | None) -> Machine:
    if "extends" not in raw:
        table, found = checked(ProfileTable, raw)
        return _built_or_refused(table, [mistake.line(label) for mistake in found])
    base, naming = _base(raw["extends"], folder)
    if not base.content:
        # What the base would have given cannot be known, so only what stands in this file is judged.
        found = [m for m in checked(ProfileTable, raw)[1] if m.got != NOTHING]
        raise MachineError([*base.lines, *(mistake.line(label) for mistake in (*naming, *found))])
    table, found = checked(ProfileTable, _laid_over(base.content, raw))
    own = [m for m in found if m.line(base.label) not in base.lines]
    mistakes = [*naming, *_extending_mistakes(raw, base.content), *own]
    return _built_or_refused(table, [*base.lines, *(mistake.line(label) for mistake in mistakes)])


def _built_or_refused(table: ProfileTable | None, lines: list[str]) -> Machine:
    if lines or table is None:
        raise MachineError(lines)
    return _built(table)


def _base(extends: Any, folder: Path | None) -> tuple[_Base, list[Mistake]]:
    """What `extends` names, and what is wrong with the naming."""
    beside = sorted(p.name for p in folder.glob("*.toml")) if folder is not None else []
    if isinstance(extends, str) and extends in BUILT_IN:
        return _Base(extends, _built_in(extends), ()), []
    if folder is None or not isinstance(extends, str) or extends not in beside:
        wanted = "a built-in profile (" + ", ".join(BUILT_IN) + ") or the name of a file beside this one"
        return _Base("", {}, ()), [
            Mistake(("extends",), shown(extends), wanted, nearest(extends, (*BUILT_IN, *beside)))
        ]
    label = str(folder / extends)
    try:
        content = read_toml(folder / extends)
    except MachineError as error:
        return _Base(label, {}, error.mistakes), []
    if "extends" in content:
        wanted = "a profile that does not itself extend another"
        return _Base(label, {}, ()), [Mistake(("extends",), shown(extends), wanted)]
    return _Base(label, content, tuple(mistake.line(label) for mistake in checked(ProfileTable, content)[1])), []


def _extending_mistakes(raw: dict[str, Any], base: dict[str, Any]) -> list[Mistake]:
    found = []
    if "name" not in raw:
        found.append(Mistake(("name",), NOTHING, "a name of its own for the profile that extends another"))
    if raw.get("units", base.get("units")) != base.get("units"):
        wanted = f"{shown(base.get('units'))}, as in the profile it extends: their lengths are read in one unit"
        found.append(Mistake(("units",), shown(raw["units"]), wanted))
    return found


def _laid_over(base: dict[str, Any], over: dict[str, Any]) -> dict[str, Any]:
    """One file's tables over another's: tables join key by key, all else replaces; what is said of one machine only
    is not inherited.
    """
    merged = {key: value for key, value in base.items() if key not in _OWN_KEYS}
    return _joined(merged, over)


def _joined(base: dict[str, Any], over: dict[str, Any]) -> dict[str, Any]:
    merged = dict(base)
    for key, value in over.items():
        both = isinstance(value, dict) and isinstance(merged.get(key), dict)
        merged[key] = _joined(merged[key], value) if both else value
    return merged


def _built(table: ProfileTable) -> Machine:
    choices = FrozenMap((name, table.choices.get(name, row.default)) for name, row in CHOICES.items())
    axes: dict[Any, AxisTable] = dict(table.axes)
    letters = [letter for letter in ("X", "Y", "Z", "B", "C") if letter in axes]
    machine = Machine(
        name=table.name,
        title=table.title or table.name,
        kind=table.kind,
        code_set=table.code_set,
        turret=table.turret,
        axes=FrozenMap((letter, _axis(table, letter, axes[letter])) for letter in letters),
        increments=Increments(table.increments.mm, table.increments.inch),
        feed_increments=_feed_increments(table),
        spindle=Spindle(
            table.spindle.max_rpm,
            table.spindle.power_kw,
            table.spindle.start_seconds,
            table.spindle.work_holding_limit_rpm,
            table.spindle.efficiency,
            table.spindle.base_rpm,
            table.spindle.torque_nm,
            table.spindle.stop_seconds,
        ),
        tool_change_seconds=table.tool_change_seconds,
        reference=_positions(table, dict(table.reference), letters),
        tool_change_position=_positions(table, dict(table.tool_change_position), letters),
        power_on=FrozenMap((group, full_code(table.power_on[group])) for group in GROUPS if group in table.power_on),
        reset_restores=tuple(group for group in GROUPS if group in table.reset_restores),
        end_resets=FrozenMap(
            (end, tuple(name for name in RESETS if name in table.end_resets[end])) for end in ("M02", "M30", "M99")
        ),
        cycles=_cycles(table),
        spindle_selectors=FrozenMap(sorted((int(key), name) for key, name in table.spindle_selectors.items())),
        wait_codes=tuple(sorted((ends[0], ends[1]) for ends in table.wait_codes if ends)),
        calls=FrozenMap(sorted((call_code(code), number) for code, number in table.calls.items())),
        label_calls=tuple(sorted(set(table.label_calls))),
        m_codes=_m_codes(table, choices["m-after-motion"]),
        g_codes_off=tuple(sorted({full_code(code) for code in table.g_codes_off})),
        tool_words=tuple(sorted(set(table.tool_words))),
        variables=_variables(table),
        longest_block=table.longest_block,
        never_together=_never_together(table),
        choices=choices,
        verified=FrozenMap((name, Verification(v.by_role, v.on)) for name, v in sorted(table.verified.items())),
        digest="",
    )
    return replace(machine, digest=content_digest(machine))


def _length(value: Fraction | None, table: ProfileTable, letter: str = "X") -> Fraction | None:
    if value is None or letter in _ROTARY:
        return value
    return value * UNIT_LENGTH[table.units]


def _axis(table: ProfileTable, letter: str, axis: AxisTable) -> Axis:
    scale = Fraction(1) if letter in _ROTARY else UNIT_LENGTH[table.units]
    low, high = _length(axis.minimum, table, letter), _length(axis.maximum, table, letter)
    return Axis(letter, axis.diameter, low, high, axis.rapid * scale, axis.acceleration * scale)


def _positions(table: ProfileTable, given: dict[Any, Fraction], letters: list[str]) -> FrozenMap[str, Fraction | None]:
    return FrozenMap((letter, _length(given.get(letter), table, letter)) for letter in letters)


def _feed_increments(table: ProfileTable) -> FrozenMap[str, FrozenMap[str, Fraction]]:
    given = table.feed_increments
    rows = {"per-minute": given.per_minute, "per-revolution": given.per_revolution, "lead": given.lead}
    pairs = {mode: (row.mm, row.inch) if row else FEED_INCREMENTS[mode] for mode, row in rows.items()}
    return FrozenMap((mode, FrozenMap({"mm": mm, "inch": inch})) for mode, (mm, inch) in pairs.items())


def _cycles(table: ProfileTable) -> CycleParameters:
    given = table.cycles
    return CycleParameters(
        rough_retract_mm=_length(given.rough_retract, table),
        peck_retract_mm=_length(given.peck_retract, table),
        drill_retract_mm=_length(given.drill_retract, table),
        thread_pull_out_leads=given.thread_pull_out_leads,
        thread_min_depth_mm=_length(given.thread_min_depth, table),
        thread_finish_allowance_mm=_length(given.thread_finish_allowance, table),
        thread_finish_passes=given.thread_finish_passes,
        thread_angle=given.thread_angle,
    )


def _m_codes(table: ProfileTable, order: str) -> FrozenMap[int, MCode]:
    codes = dict(STANDARD)
    for number in ORDERED_BY_CHOICE:
        codes[number] = replace(codes[number], when=f"{order}-motion")
    for key, entry in table.m_codes.items():
        number = int(key)
        if number in STANDARD:
            codes[number] = replace(codes[number], when=entry.when or codes[number].when)
        else:
            sets = tuple(sorted((entry.sets or {}).items()))
            codes[number] = MCode(
                number, entry.meaning or "", entry.weight or "critical", entry.when or "with-motion", sets
            )
    return FrozenMap((number, codes[number]) for number in sorted(codes))


def _variables(table: ProfileTable) -> VariableRanges:
    def ends(pair: list[int]) -> tuple[int, int] | None:
        return (pair[0], pair[1]) if pair else None

    given = table.variables
    return VariableRanges(ends(given.local), ends(given.common), ends(given.kept), ends(given.system))


def _never_together(table: ProfileTable) -> tuple[tuple[tuple[str, str], tuple[str, str]], ...]:
    pairs = set()
    for row in table.never_together:
        (one, ones), (two, twos) = sorted(row.items())
        pairs |= {((one, first), (two, second)) for first in ones for second in twos}
    return tuple(sorted(pairs))
