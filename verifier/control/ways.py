"""Every way that a program can take through questions which only the machine can answer, up to a budget."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from dataclasses import replace

from verifier.control.branches import Branch
from verifier.control.execute import execute
from verifier.control.trace import Trace
from verifier.control.units import Library
from verifier.machines import Machine, Setup
from verifier.syntax import Program

WAYS_LIMIT = 12
"""Ways that are followed for one position of the switches. Where there are more, the order of execution counts as unknown."""

_TOLD = 6


def execute_ways(
    program: Program,
    machine: Machine,
    *,
    setup: Setup | None = None,
    library: Library | None = None,
    skips_on: Iterable[int] = (),
) -> tuple[Trace, ...]:
    """One trace for each way, the one that answers every question No first. Raises MachineError as `execute`.

    Ways differ at the first question that they answer differently, so that for any answers exactly one of the traces is the run.
    """
    skips = tuple(skips_on)
    waiting: deque[dict[str, bool]] = deque([{}])
    found: list[Trace] = []
    while waiting and len(found) < WAYS_LIMIT:
        given = waiting.popleft()
        trace = execute(program, machine, setup=setup, library=library, skips_on=skips, ways=given)
        found.append(trace)
        known = dict(given)
        for branch in trace.branches:
            if branch.atom.text in given:
                continue
            waiting.append({**known, branch.atom.text: True})
            known[branch.atom.text] = False
    if waiting:
        found = [replace(trace, flow_unknown=True) for trace in found]
    return tuple(found)


def way_text(branches: Iterable[Branch], *, every: bool = False) -> str:
    """The answers of a way in words: those other than No, or `every` one; a few of many."""
    told = sorted({branch.text for branch in branches if every or branch.taken})
    return " and ".join(told if len(told) <= _TOLD else [*told[:_TOLD], f"{len(told) - _TOLD} more"])
