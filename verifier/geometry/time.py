"""How long a program takes: every move, dwells, tool changes and waiting for the spindle, of its first pass.

What cannot be timed takes no time here and is named; what was assumed is told in words.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import fsum

import numpy as np
from numpy.typing import NDArray

from verifier.control import Event, InForce, Trace
from verifier.geometry.assumed import assumptions
from verifier.geometry.cutting import MoveClock
from verifier.geometry.marker import marker_waits
from verifier.geometry.run_up import SpindleWait, spindle_waits
from verifier.geometry.slow_down import stop_waits
from verifier.geometry.speeds import spindle_speed
from verifier.machines import Machine

_SPEED_NOT_KNOWN = "a wait for a spindle speed that is known only to the machine"
_NOT_TIMED = {
    "machine-code": "how long this M code takes is not in the machine profile",
    "auxiliary": "how long the machine takes for this is not in the machine profile",
    "unexecuted": "it was not executed",
    "unreadable": "the block cannot be read",
    "missing-program": "the program that it calls is not at hand",
}


@dataclass(frozen=True, slots=True)
class Uncounted:
    """Moves or events of one block that were not timed, and why; `count` of them in the first pass."""

    block: int
    reason: str
    count: int


@dataclass(frozen=True, slots=True, eq=False)
class Times:
    """Seconds of a trace. `moves[k]` and `events[k]` belong to move k and event k of it, repeated passes included.

    `total` is the time of the first pass (with `waits`, all of which lie in it); `uncounted` are what that total lacks. Standing at a stop
    until somebody goes on is no machine time and never counted.
    """

    moves: NDArray[np.float64]
    events: NDArray[np.float64]
    waits: tuple[SpindleWait, ...]
    total: float
    uncounted: tuple[Uncounted, ...]
    assumptions: tuple[str, ...]


def times(trace: Trace, machine: Machine) -> Times:
    """Time a trace on a machine: rapids from rest to rest, cuts with speeding up and slowing down, waits for the spindle."""
    clock = MoveClock(trace, machine)
    last = first_pass_events(trace)
    waiting = spindle_waits(trace, machine, clock.seconds, last)
    markers, stops = marker_waits(trace, machine), stop_waits(trace, machine, clock.seconds, last)
    waits = tuple(sorted((*waiting.waits, *markers.waits, *stops.waits), key=lambda wait: wait.at))
    seconds = clock.paced(np.array([wait.at for wait in waits], np.int64))
    events, reasons = _event_seconds(trace, machine, seconds, last)
    unknown = (*waiting.unknown, *markers.unknown, *stops.unknown)
    reasons += [(int(trace.moves.block[k]), _SPEED_NOT_KNOWN) for k in unknown]
    total = fsum(seconds[: trace.first_pass].tolist()) + fsum(events[:last].tolist())
    total += fsum(wait.seconds for wait in waits)
    return Times(
        seconds,
        events,
        waits,
        total,
        _uncounted(trace, clock, reasons),
        assumptions(trace, machine, clock, waiting, stopped=bool(stops.waits), last=last),
    )


def first_pass_events(trace: Trace) -> int:
    """How many events the first pass has: all before the one that says that the program starts again."""
    return next((k for k, event in enumerate(trace.events) if event.kind == "repeat"), len(trace.events))


def _event_seconds(
    trace: Trace, machine: Machine, moving: NDArray[np.float64], last: int
) -> tuple[NDArray[np.float64], list[tuple[int, str]]]:
    """Seconds of every event, and (block, reason) for each of the first pass that was not timed."""
    seconds = np.zeros(len(trace.events))
    reasons: list[tuple[int, str]] = []
    tool: object = None
    for k, event in enumerate(trace.events):
        found: float | str = 0.0
        if event.kind == "dwell":
            found = _dwell(trace, event, machine)
        elif event.kind == "tool":
            now = trace.states[event.state].tool
            found = _tool_change(trace, event, machine, moving) if now != tool else 0.0
            tool = now
        elif event.kind in _NOT_TIMED and event.value != "M06":  # the T word has the time of the change
            found = f"{event.value}: {_NOT_TIMED[event.kind]}"
        if isinstance(found, str):
            if k < last:
                reasons.append((event.block, found))
        else:
            seconds[k] = found
    return seconds, reasons


def _dwell(trace: Trace, event: Event, machine: Machine) -> float | str:
    """A dwell in seconds, or in revolutions at the speed of that moment."""
    amount, unit = event.value.split(" ")
    if unit == "s":
        return float(Fraction(amount))
    state = trace.states[event.state]
    x = _radius_at(trace, event)
    surface = state.speed_mode == "surface"
    rpm = spindle_speed(state, x or 0, machine) if x is not None or not surface else None
    if not rpm:
        return "a dwell in revolutions at a speed that is not known here"
    return float(Fraction(amount)) * 60 / rpm


def _radius_at(trace: Trace, event: Event) -> int | None:
    """The X radius in ticks where the tool stands at an event, if it is known and nothing shifted the coordinates since the move before."""
    moves, k = trace.moves, event.at - 1
    if k < 0 or moves.bx1[k]:
        return None
    before, now = trace.states[int(moves.state[k])], trace.states[event.state]
    return int(moves.x1[k]) if _same_coordinates(before, now) else None


def _same_coordinates(one: InForce, other: InForce) -> bool:
    return (one.frame, one.offset, one.work_offset) == (other.frame, other.offset, other.work_offset)


def _tool_change(trace: Trace, event: Event, machine: Machine, moving: NDArray[np.float64]) -> float:
    """The profile's time; where the turret indexes during the block's move, only what the move does not cover."""
    seconds = float(machine.tool_change_seconds)
    k = event.at
    together = machine.choice("tool-with-motion") == "index-with-motion"
    if together and k < len(trace.moves) and int(trace.moves.block[k]) == event.block:
        return max(0.0, seconds - float(moving[k]))
    return seconds


def _uncounted(trace: Trace, clock: MoveClock, reasons: list[tuple[int, str]]) -> tuple[Uncounted, ...]:
    why = clock.why[: trace.first_pass]
    counts: dict[tuple[int, str], int] = {}
    for k in np.flatnonzero(why).tolist():
        key = (int(trace.moves.block[k]), clock.reasons[int(why[k])])
        counts[key] = counts.get(key, 0) + 1
    for key in reasons:
        counts[key] = counts.get(key, 0) + 1
    return tuple(Uncounted(block, reason, count) for (block, reason), count in sorted(counts.items()))
