"""Small programs, executed: what the tests of execution and of time share."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction
from typing import Any

from verifier.control import Library, MoveRow, Trace, execute, library_of
from verifier.machines import FrozenMap, Machine, Setup, code_name, generic_lathe
from verifier.source import read_source
from verifier.syntax import Program, parse

MM = 100_000_000
INCH = 2_540_000_000


def program(text: str) -> Program:
    return parse(read_source(text.encode("utf-8")))


def machine(choices: dict[str, str] | None = None, **changes: Any) -> Machine:
    """The built-in lathe with some choices and fields made otherwise; in another code set with that set's codes at power-on."""
    generic = generic_lathe()
    if "code_set" in changes:
        names = {group: code_name(code, changes["code_set"]) for group, code in generic.power_on.items()}
        changes = {"power_on": FrozenMap(names), **changes}
    made = FrozenMap({**generic.choices, **(choices or {})})
    return replace(generic, choices=made, **changes)


def with_speed(rpm: int) -> Machine:
    generic = generic_lathe()
    return machine(spindle=replace(generic.spindle, max_rpm=Fraction(rpm)))


def at_once(on: Machine | None = None) -> Machine:
    """A machine whose slides and spindle come to speed in no time: what the handbook formulas are about."""
    on = on or generic_lathe()
    axes = {letter: replace(axis, acceleration=Fraction(10**15)) for letter, axis in on.axes.items()}
    return replace(on, axes=FrozenMap(axes), spindle=replace(on.spindle, start_seconds=Fraction(0), stop_seconds=None))


def run(
    text: str,
    on: Machine | None = None,
    *,
    setup: Setup | None = None,
    library: Iterable[str] = (),
    skips_on: Iterable[int] = (),
) -> Trace:
    shelf: Library = library_of(program(other) for other in library)
    return execute(program(text), on or generic_lathe(), setup=setup, library=shelf, skips_on=skips_on)


def ends(trace: Trace) -> list[tuple[str, float, float]]:
    """Kind, X as diameter and Z in mm of each move's end."""
    return [(row.kind.name.lower(), 2 * row.x1 / MM, row.z1 / MM) for row in trace.rows()]


def last(trace: Trace) -> tuple[float, float]:
    """X as diameter and Z in mm where the last move ends."""
    _, x, z = ends(trace)[-1]
    return x, z


def codes(trace: Trace) -> list[str]:
    """The codes of the faults, in order."""
    return [fault.code for fault in trace.faults]


def events(trace: Trace, *kinds: str) -> list[str]:
    """The values of the events of some kinds (all, without a kind), in order."""
    return [event.value for event in trace.events if not kinds or event.kind in kinds]


def state_of(trace: Trace, move: int = -1) -> Any:
    """What is in force during a move."""
    return trace.states[trace.rows()[move].state]


def path(trace: Trace) -> list[tuple[Any, ...]]:
    """The moves as what the machine does: kind, start, end, centre, and what is in force; by whom is left out."""
    return [
        (row.kind, *_place(trace, row), row.cx, row.cz, trace.states[row.state], trace.remarks[row.remark])
        for row in trace.rows()
    ]


def _place(trace: Trace, row: MoveRow) -> tuple[Any, ...]:
    bases = (row.bx0, row.bz0, row.bx1, row.bz1)
    return (*(trace.bases[k] for k in bases), row.x0, row.z0, row.x1, row.z1)


def doings(trace: Trace) -> tuple[Any, ...]:
    """All that the machine does, in order and without who asked for it: two equal ones are one behaviour."""
    happenings = [(e.kind, e.value, e.at, trace.states[e.state], e.certain) for e in trace.events]
    return path(trace), happenings, trace.end
