"""Places that only the machine knows, in words: what they are counted from, and which block made them so.

A base names its steps, joined by "|": where the axis stood, then every shift by an amount that is not known here. The words stand behind
the axis letter: "X at the reference point", "Z 5 mm counted with another tool offset (tool 4 offset 4, now tool 8 offset 8)".
"""

from __future__ import annotations

import re
from collections.abc import Callable

from verifier.findings import shop

_SHOWN = 60
"""So much of a block that was not executed is quoted."""
_REST = "..."
"""Stands in a base for steps that were left out."""

Words = Callable[[re.Match[str], str], str]

_STARTS: tuple[tuple[re.Pattern[str], Words], ...] = (
    (re.compile(r"[XZ] at reference(?: (.*))?"), lambda m, by: _from("the reference point" + (f" {m[1]}" if m[1] else ""), by)),
    (re.compile(r"[XZ] before the program"), lambda m, by: _from("where it stood before the program", by)),
    (re.compile(r"[XZ] in machine coordinates"), lambda m, by: f"{by or 0} in machine coordinates"),
    (re.compile(r"[XZ] after (G[0-9]+.*)"), lambda m, by: _from(f"where {m[1]} without an axis word leaves it", by)),
    (re.compile(r"[XZ] out of reach by (.*)"), lambda m, by: f"out of reach ({m[1]})"),
)  # fmt: skip
_SHIFTS: tuple[tuple[re.Pattern[str], Words], ...] = (
    (re.compile(r"[XZ] T(.*)/(.*)>T(.*)/(.*)"), lambda m, _: f"counted with another tool offset ({_tool(m[1], m[2])}, now {_tool(m[3], m[4])})"),
    (re.compile(r"[XZ] (G5[0-9.]+)>(G5[0-9.]+)"), lambda m, _: f"counted from another work offset ({m[1]}, now {m[2]})"),
)  # fmt: skip


def unknown_place(base: str, ticks: int, axis: str, units: str) -> str:
    """A coordinate ("x": a radius in ticks, told as a diameter, or "z") that counts from something only the machine knows."""
    return " ".join(filter(None, unknown_parts(base, ticks, axis, units)))


def unknown_parts(base: str, ticks: int, axis: str, units: str) -> tuple[str, str]:
    """The same in two parts: the amount with what it counts from, and what shifted it since then (may be empty)."""
    steps = [step for step in base.split("|") if step != _REST]
    by = shop.length(ticks, units, diameter=axis == "x") if ticks else ""
    first = next((words(found, by) for form, words in _STARTS if (found := form.fullmatch(steps[0]))), None)
    told = list(dict.fromkeys(_shift(step) for step in (steps[1:] if first is not None else steps)))
    if len(told) > 2:
        told = [told[0], f"and {len(told) - 1} more such steps"]
    return first if first is not None else (by or "0"), ", ".join(told)


def _shift(step: str) -> str:
    found = next((words(m, "") for form, words in _SHIFTS if (m := form.fullmatch(step))), None)
    if found is not None:
        return found
    if step.startswith("unreadable:"):
        return "counted from where a block that cannot be read leaves it"
    if ">G10" in step:
        return "counted from an offset that only the machine knows"
    text = step if len(step) <= _SHOWN else f"{step[: _SHOWN - 3]}..."
    return f"counted from an unknown place behind {text}"


def _from(place: str, by: str) -> str:
    if by:
        return f"{by} from {place}"
    return place if place.startswith("where") else f"at {place}"


def _tool(tool: str, offset: str) -> str:
    if tool == "None":
        return "no tool before"
    return f"tool {tool} offset {offset}" if offset != "None" else f"tool {tool}"
