"""Checks that span several keys of a profile. They work on the file as written, so that they speak even where other
keys are wrong.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from verifier.machines.choices import CHOICES
from verifier.machines.code_sets import ABSOLUTE, INCREMENTAL, SETS, TO_INITIAL, TO_R, code_name
from verifier.machines.edge import CALL_FORM, CODE_FORM, number
from verifier.machines.mcodes import CONTROL_MEANINGS, ORDERED_BY_CHOICE, STANDARD
from verifier.machines.mistakes import NOTHING, Mistake, not_one_of, shown, unknown_key
from verifier.machines.model import DISTANCE_GROUPS, GROUPS

_COMMON = {
    "motion": ("G00", "G01"),
    "speed-mode": ("G96", "G97"),
    "plane": ("G17", "G18", "G19"),
    "compensation": ("G40",),
    "work-offset": ("G54", "G55", "G56", "G57", "G58", "G59"),
}


def cross_checks(raw: dict[str, Any]) -> list[Mistake]:
    """Every contradiction between keys of a profile as read from TOML; values of a wrong type are left to the table's
    own check.
    """
    return [
        *_axes(raw),
        *_power_on(raw),
        *_choices(raw),
        *_m_codes(raw),
        *_never_together(raw),
        *_variables(raw),
        *_calls(raw),
    ]


_NO_CALL = (
    *("G00", "G01", "G02", "G03", "G65", "G66", "G67"), *("M00", "M01", "M02", "M03", "M04", "M05", "M30", "M98", "M99"),
)  # fmt: skip
"""Codes whose meaning a program relies on: none of them can call another one."""


def call_code(code: str) -> str:
    """A code that calls a program as it is looked up: "G1" and "G01" are "G01"."""
    return f"{code[0]}{int(code[1:]):02d}"


def _calls(raw: dict[str, Any]) -> Iterator[Mistake]:
    for code in _table(raw, "calls"):
        if re.search(CALL_FORM, code) and call_code(code) in _NO_CALL:
            yield Mistake(("calls", code), code, "a code that no program needs for itself")
    labels = raw.get("label_calls")
    for code in labels if isinstance(labels, list) else []:
        if code in (3, 4, 5, 30, 98, 99):
            yield Mistake(("label_calls",), shown(code), "an M code that no program needs for itself")


def _table(raw: Any, key: str) -> dict[str, Any]:
    found = raw.get(key) if isinstance(raw, dict) else None
    return found if isinstance(found, dict) else {}


def _axes(raw: dict[str, Any]) -> Iterator[Mistake]:
    axes = _table(raw, "axes")
    for letter in ("X", "Z"):
        if isinstance(raw.get("axes"), dict) and letter not in axes:
            yield Mistake(("axes", letter), NOTHING, "a table for this axis")
    for key in ("reference", "tool_change_position"):
        for letter, value in _table(raw, key).items():
            if letter not in axes:
                yield Mistake((key, letter), shown(value), "an axis of this machine: " + ", ".join(axes))
    for letter in _table(raw, "tool_change_position"):
        at = number(raw["tool_change_position"], letter)
        low, high = (number(_table(axes, letter), key) for key in ("minimum", "maximum"))
        if at is not None and ((low is not None and at < low) or (high is not None and at > high)):
            got = shown(raw["tool_change_position"][letter])
            yield Mistake(("tool_change_position", letter), got, "a position within the travel of this axis")


def _power_on(raw: dict[str, Any]) -> Iterator[Mistake]:
    code_set = raw.get("code_set")
    allowed = dict(_COMMON)
    if isinstance(code_set, str) and code_set in SETS:
        allowed |= {"feed-mode": _codes("G98", "G99", code_set), "units": _codes("G20", "G21", code_set)}
        if code_set == "A":
            yield from _none_in_a(_table(raw, "power_on"))
        else:
            allowed |= {
                "distance": _codes(ABSOLUTE, INCREMENTAL, code_set),
                "return-level": _codes(TO_INITIAL, TO_R, code_set),
            }
    table = _table(raw, "power_on")
    for group in GROUPS:
        if isinstance(raw.get("power_on"), dict) and group not in table and group not in DISTANCE_GROUPS:
            yield Mistake(("power_on", group), NOTHING, "the code in force at power-on")
        elif group in allowed and _is_code(table.get(group)) and full_code(table[group]) not in allowed[group]:
            yield not_one_of(("power_on", group), table[group], allowed[group])
    ends = _table(raw, "end_resets")
    for end in ("M02", "M30", "M99"):
        if isinstance(raw.get("end_resets"), dict) and end not in ends:
            yield Mistake(("end_resets", end), NOTHING, "a list of what this end puts back (empty for nothing)")


def _codes(one: str, other: str, code_set: str) -> tuple[str, str]:
    return code_name(one, code_set), code_name(other, code_set)


def _none_in_a(table: dict[str, Any]) -> Iterator[Mistake]:
    for group in DISTANCE_GROUPS:
        if group in table:
            yield Mistake(("power_on", group), shown(table[group]), "nothing: code set A has no codes of this group")


def _is_code(value: Any) -> bool:
    return isinstance(value, str) and re.search(CODE_FORM, value) is not None


def full_code(code: str) -> str:
    """A code with two digits at least: "G1" is "G01"."""
    return code[0] + code[1:].rjust(2, "0") if "." not in code else code


def _choices(raw: dict[str, Any]) -> Iterator[Mistake]:
    for name, value in _table(raw, "choices").items():
        if name not in CHOICES:
            yield unknown_key(("choices", name), list(CHOICES))
        elif isinstance(value, str) and value not in CHOICES[name].values:
            yield not_one_of(("choices", name), value, CHOICES[name].values)


def _m_codes(raw: dict[str, Any]) -> Iterator[Mistake]:
    order = _table(raw, "choices").get("m-after-motion", CHOICES["m-after-motion"].default)
    seen: dict[int, str] = {}
    for key, entry in _table(raw, "m_codes").items():
        if not (key.isascii() and key.isdecimal() and len(key) <= 5) or not isinstance(entry, dict):
            continue
        number = int(key)
        if number in seen:
            yield Mistake(("m_codes", key), "the same code again", f"one table, as in m_codes.{seen[number]}")
        seen[number] = key
        if number in STANDARD:
            yield from _built_in_code(number, ("m_codes", key), entry, order)
        else:
            yield from _own_code(("m_codes", key), entry)


def _built_in_code(number: int, path: tuple[str, str], entry: dict[str, Any], order: Any) -> Iterator[Mistake]:
    for field in ("meaning", "weight", "sets"):
        if field in entry:
            yield Mistake((*path, field), shown(entry[field]), "nothing: of a built-in code only `when` may be given")
    if number in ORDERED_BY_CHOICE and entry.get("when") not in (None, f"{order}-motion"):
        yield Mistake((*path, "when"), shown(entry["when"]), f'"{order}-motion", as the choice m-after-motion says')


def _own_code(path: tuple[str, str], entry: dict[str, Any]) -> Iterator[Mistake]:
    for field in ("meaning", "weight"):
        if field not in entry:
            yield Mistake((*path, field), NOTHING, "a value")
    if entry.get("meaning") in CONTROL_MEANINGS:
        yield Mistake((*path, "meaning"), shown(entry["meaning"]), "a meaning that no built-in code has")


def _states(raw: dict[str, Any]) -> dict[str, list[str]]:
    """Every auxiliary name and the states that some M code sets it to."""
    pairs = [pair for code in STANDARD.values() for pair in code.sets]
    for entry in _table(raw, "m_codes").values():
        pairs += [(k, v) for k, v in _table(entry, "sets").items() if isinstance(v, str)]
    states: dict[str, list[str]] = {}
    for name, state in pairs:
        if state not in states.setdefault(name, []):
            states[name].append(state)
    return states


def _never_together(raw: dict[str, Any]) -> Iterator[Mistake]:
    rows, states = raw.get("never_together"), _states(raw)
    for index, row in enumerate(rows if isinstance(rows, list) else []):
        path: tuple[str | int, ...] = ("never_together", index)
        if not isinstance(row, dict):
            continue
        if len(row) != 2:
            yield Mistake(path, f"{len(row)} names", "two auxiliary names with their states")
        for name, value in row.items():
            if name not in states:
                yield unknown_key((*path, name), list(states))
                continue
            for state in value if isinstance(value, list) else [value]:
                if isinstance(state, str) and state not in states[name]:
                    yield not_one_of((*path, name), state, states[name])


def _variables(raw: dict[str, Any]) -> Iterator[Mistake]:
    ranges = [(k, v) for k, v in _table(raw, "variables").items() if isinstance(v, list) and len(v) == 2]
    whole = [(k, v) for k, v in ranges if all(isinstance(end, int) for end in v)]
    for index, (kind, ends) in enumerate(whole):
        if ends[0] > ends[1]:
            yield Mistake(("variables", kind), shown(ends), "the first number, then the last")
        for other, others in whole[:index]:
            if ends[0] <= others[1] and others[0] <= ends[1]:
                yield Mistake(("variables", kind), shown(ends), f"numbers that {other} does not have: {shown(others)}")
