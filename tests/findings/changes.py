"""Changes for tests of rules: two texts compared on the generic lathe, or a program of the demo shop edited in one place."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

from hypothesis import strategies as st

from verifier.compare import Comparison, compare, levels_of, side
from verifier.findings import Finding, default_policy, judge
from verifier.machines import Machine, Setup, generic_lathe, load_machine, load_setup
from verifier.source import read_source
from verifier.syntax import Program, parse

SHOP = Path(__file__).parents[2] / "fixtures" / "shop"
PARTS = {
    "drive-shaft": "north-lathe",
    "flanged-sleeve": "north-lathe",
    "clamp-stud": "dock-lathe",
}


def program(text: str) -> Program:
    return parse(read_source(text.encode(), "test"))


def compared(old: str, new: str, machine: Machine | None = None, setup: Setup | None = None) -> Comparison:
    machine = machine or generic_lathe()
    programs = [program(text) for text in (old, new)]
    levels = tuple(sorted({level for p in programs for level in levels_of(p)}))
    before, after = (side(p, machine, setup=setup, levels=levels) for p in programs)
    return compare(before, after)


def findings(old: str, new: str, machine: Machine | None = None, setup: Setup | None = None) -> tuple[Finding, ...]:
    """The findings of the change rules alone."""
    return judge(compared(old, new, machine, setup), default_policy(), program=[]).findings


def told(old: str, new: str, rule: str, machine: Machine | None = None, setup: Setup | None = None) -> list[Finding]:
    return [f for f in findings(old, new, machine, setup) if f.rule == rule]


@cache
def part(name: str) -> tuple[str, Machine, Setup]:
    """A part of the demo shop: its base program, its machine and its setup sheet."""
    machine = load_machine(SHOP / "machines" / f"{PARTS[name]}.toml")
    text = (SHOP / "programs" / name / "base.nc").read_bytes().decode("ascii")
    return text.replace("\r\n", "\n"), machine, load_setup(SHOP / "setups" / f"{name}.toml", machine)


_NUMBER = re.compile(r"([XZUWIKRFSPQT])(-?)([0-9]*\.?[0-9]+|[0-9]+\.)")
_EXCHANGED = {
    "G00": "G01", "G0 ": "G1 ", "G01": "G00", "G1 ": "G0 ", "M03": "M04", "M08": "M09", "G96": "G97", "G99": "G98", "G02": "G03",
    "G42": "G41", "G54": "G55", "G21": "G20", "M01": "M00", "X": "U", "Z": "W",
}  # fmt: skip


def _numbers(line: str, how: int) -> str:
    """The first number of a line made another one."""
    found = _NUMBER.search(line)
    if found is None:
        return line
    letter, sign, digits = found.groups()
    changed = {
        0: ("" if sign else "-") + digits,
        1: sign + digits.replace(".", "", 1),
        2: sign + digits.replace(".", "1.", 1) if "." in digits else sign + digits + "1",
        3: sign + "2" + digits,
    }[how]
    return line[: found.start()] + letter + changed + line[found.end() :]


@st.composite
def edits(draw: st.DrawFn) -> tuple[str, str, str]:
    """A part's name, its program, and that program with one or two lines edited as people edit them."""
    name = draw(st.sampled_from(sorted(PARTS)))
    text = part(name)[0]
    lines = text.split("\n")
    for _ in range(draw(st.integers(1, 2))):
        at = draw(st.integers(0, len(lines) - 1))
        how = draw(st.integers(0, 8))
        if how <= 3:
            lines[at] = _numbers(lines[at], how)
        elif how == 4:
            del lines[at]
        elif how == 5:
            lines.insert(at, lines[at])
        elif how == 6 and at + 1 < len(lines):
            lines[at], lines[at + 1] = lines[at + 1], lines[at]
        elif how == 7:
            lines[at] = "/" + lines[at]
        else:
            word = next((w for w in _EXCHANGED if w in lines[at]), None)
            lines[at] = lines[at].replace(word, _EXCHANGED[word], 1) if word else lines[at]
    return name, text, "\n".join(lines)
