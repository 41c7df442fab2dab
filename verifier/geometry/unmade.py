"""Cuts that were never moves: a cycle that cannot be computed, a block that cannot be read, a program that is not there."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import zip_longest

from verifier.control import CYCLES, Trace
from verifier.machines import Machine, meaning

REASON = "it could not be executed here: what it takes off is not known"
_UNKNOWN = {"unreadable": "a block that cannot be read", "missing-program": "a called program that is not there"}
_NUMBERS = (" [", " <")
"""Behind these an event's text tells amounts of an earlier line, and the contour."""


@dataclass(frozen=True, slots=True)
class Unmade:
    """Something that may take material off and was not made: before which move, its block, and what it is in words."""

    at: int
    block: int
    what: str


def unmade(trace: Trace, machine: Machine) -> tuple[Unmade, ...]:
    """All of a trace, in order."""
    found = []
    for event in trace.events:
        if event.kind == "unexecuted" and meaning(event.value.split(" ")[0], machine.code_set) in CYCLES:
            what = event.value
            for mark in _NUMBERS:
                what = what.split(mark)[0]
            found.append(Unmade(event.at, event.block, what))
        elif event.kind in _UNKNOWN:
            found.append(Unmade(event.at, event.block, _UNKNOWN[event.kind]))
    return tuple(found)


def made_alike(one: Trace, other: Trace, machine: Machine) -> int:
    """Before which move two traces first leave something else unmade; the number of moves of the longer where they never do."""
    for mine, theirs in zip_longest(unmade(one, machine), unmade(other, machine)):
        if mine is None or theirs is None or (mine.at, mine.what) != (theirs.at, theirs.what):
            return min(missing.at for missing in (mine, theirs) if missing is not None)
    return max(len(one.moves), len(other.moves))
