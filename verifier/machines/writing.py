"""A Machine or a Setup written out as the TOML file, whole and in millimetres, that loads back to the same values."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import fields
from datetime import date
from decimal import Decimal, localcontext
from fractions import Fraction
from typing import Any

from verifier.machines.choices import CHOICES
from verifier.machines.mcodes import ORDERED_BY_CHOICE, STANDARD
from verifier.machines.model import Machine, MCode
from verifier.machines.setup_model import KeepOut, Setup, Stock, Tool

_BARE = frozenset("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789_-")


def machine_text(machine: Machine) -> str:
    """The resolved profile: every choice with its value, and a remark where nobody verified it."""
    lines = list(_lines(_machine_tables(machine), ()))
    assumed = {f"{name} = {_value(value)}" for name, value in machine.choices.items() if not machine.is_verified(name)}
    start = lines.index("[choices]")
    end = lines.index("", start)
    lines[start:end] = [f"{line}  # not verified" if line in assumed else line for line in lines[start:end]]
    return "\n".join(lines).strip() + "\n"


def table_text(tables: Mapping[str, Any]) -> str:
    """Any nested table of the values that these files hold, as TOML."""
    return "\n".join(_lines(tables, ())).strip() + "\n"


def setup_text(setup: Setup) -> str:
    """The setup sheet as it was understood."""
    return table_text(_setup_tables(setup))


def _machine_tables(machine: Machine) -> dict[str, Any]:
    cycles = {f.name.removesuffix("_mm"): getattr(machine.cycles, f.name) for f in fields(machine.cycles)}
    return {
        "name": machine.name,
        "title": machine.title,
        "kind": machine.kind,
        "code_set": machine.code_set,
        "turret": machine.turret,
        "units": "mm",
        "tool_change_seconds": machine.tool_change_seconds,
        "reset_restores": machine.reset_restores,
        "g_codes_off": machine.g_codes_off,
        "tool_words": machine.tool_words,
        "longest_block": machine.longest_block,
        "wait_codes": machine.wait_codes,
        "label_calls": machine.label_calls,
        "axes": {letter: _fields(axis, ("letter",)) for letter, axis in machine.axes.items()},
        "increments": _fields(machine.increments),
        "feed_increments": machine.feed_increments,
        "spindle": _fields(machine.spindle),
        "reference": machine.reference,
        "tool_change_position": machine.tool_change_position,
        "power_on": machine.power_on,
        "end_resets": machine.end_resets,
        "cycles": cycles,
        "m_codes": {str(number): _m_code(code) for number, code in machine.m_codes.items() if _said(code)},
        "calls": machine.calls,
        "spindle_selectors": {str(number): name for number, name in machine.spindle_selectors.items()},
        "variables": {f.name: getattr(machine.variables, f.name) or () for f in fields(machine.variables)},
        "never_together": [dict(pair) for pair in machine.never_together],
        "choices": {name: machine.choices[name] for name in CHOICES},
        "verified": {name: _fields(entry) for name, entry in machine.verified.items()},
    }


def _said(code: MCode) -> bool:
    """Whether a profile has to say something about this code."""
    usual = STANDARD.get(code.code)
    return usual is None or (code.code not in ORDERED_BY_CHOICE and code.when != usual.when)


def _m_code(code: MCode) -> dict[str, Any]:
    if code.code in STANDARD:
        return {"when": code.when}
    return {"meaning": code.meaning, "weight": code.weight, "when": code.when, "sets": dict(code.sets)}


def _setup_tables(setup: Setup) -> dict[str, Any]:
    holding = setup.work_holding
    zones = (
        [_outlined(zone, ("z_from", "z_to", "diameter_from", "diameter_to")) for zone in holding.keep_out]
        if holding
        else []
    )
    return {
        "name": setup.name,
        "units": "mm",
        "other_channel": setup.other_channel,
        "stock": _outlined(setup.stock, ("diameter", "length", "face_z")) if setup.stock else None,
        "work_holding": _held(setup) | {"keep_out": zones} if holding else None,
        "turret": _fields(setup.turret) if setup.turret else None,
        "work_offsets": setup.work_offsets,
        "variables": {str(key): value for key, value in setup.variables.items()},
        "tools": {str(station): _tool(tool) for station, tool in setup.tools.items()},
        "limits": [_fields(limit) for limit in setup.limits],
        "material": _fields(setup.material) if setup.material else None,
        "roughness": [_fields(entry, ("ra",)) | {"ra_um": entry.ra} for entry in setup.roughness],
    }


def _held(setup: Setup) -> dict[str, Any]:
    assert setup.work_holding is not None
    grip = setup.work_holding.grip
    return _fields(setup.work_holding, ("keep_out", "grip")) | {"grip": _fields(grip) if grip is not None else None}


def _outlined(value: Stock | KeepOut, box: tuple[str, ...]) -> dict[str, Any]:
    """A stock or a zone by its outline, or else by the measures of the box."""
    came_from = {}
    if isinstance(value, Stock) and value.came_from is not None:
        came_from = {"came_from": _fields(value.came_from)}
    return _fields(value, (*(box if value.outline else ("outline",)), "came_from")) | came_from


def _tool(tool: Tool) -> dict[str, Any]:
    return _fields(tool, ("station", "holder")) | {"holder": tool.holder or None}


def _fields(value: Any, without: tuple[str, ...] = ()) -> dict[str, Any]:
    """The fields of a dataclass that hold something."""
    pairs = ((f.name, getattr(value, f.name)) for f in fields(value) if f.name not in without)
    return {key: item for key, item in pairs if item is not None and item != ""}


def _lines(table: Mapping[str, Any], path: tuple[str, ...]) -> Iterator[str]:
    """A table in TOML: its own keys first, then its tables, then its lists of tables."""
    given = {key: value for key, value in table.items() if value is not None}
    tables = {key: value for key, value in given.items() if isinstance(value, Mapping)}
    lists = {key: value for key, value in given.items() if isinstance(value, list)}
    for key, value in given.items():
        if key not in tables and key not in lists:
            yield f"{_key(key)} = {_value(value)}"
    yield ""
    for key, value in tables.items():
        yield "[" + ".".join(map(_key, (*path, key))) + "]"
        yield from _lines(value, (*path, key))
    for key, rows in lists.items():
        for row in rows:
            yield "[[" + ".".join(map(_key, (*path, key))) + "]]"
            yield from _lines(row, (*path, key))


def _key(key: str) -> str:
    return key if key and set(key) <= _BARE else _value(key)


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Fraction):
        return _number(value)
    if isinstance(value, tuple):
        return "[" + ", ".join(_value(item) for item in value) + "]"
    if isinstance(value, str):
        return '"' + "".join(_character(c) for c in value) + '"'
    if isinstance(value, int | date):
        return str(value)
    raise TypeError(f"no TOML form for {type(value).__name__}")


def _character(character: str) -> str:
    if character in '"\\':
        return "\\" + character
    return character if character.isprintable() else f"\\U{ord(character):08x}"


def _number(value: Fraction) -> str:
    """An exact decimal; every length here comes from a decimal, so that it always ends."""
    with localcontext() as context:
        context.prec = 200
        text = f"{Decimal(value.numerator) / value.denominator:f}"
    if Fraction(text) != value:
        raise ValueError(f"{value} has no finite decimal form")
    return text
