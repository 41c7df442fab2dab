"""How long a program takes: every move, dwells, tool changes and spindle starts, of its first pass.

What cannot be timed takes no time here and is named; what was assumed is told in words.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import fsum

import numpy as np
from numpy.typing import NDArray

from verifier.control import FIELDS, Event, InForce, Trace
from verifier.geometry.cutting import MoveClock
from verifier.geometry.speeds import spindle_speed
from verifier.machines import Machine

_SENSE = FIELDS.index("sense")
_TURNING = ("forward", "reverse")
_WAITS_FOR_SOMEBODY = ("stop", "optional-stop")
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


@dataclass(frozen=True, slots=True)
class SpindleStart:
    """The spindle comes up to speed, after `at` moves; `block` asked for it."""

    at: int
    block: int
    caller: int
    seconds: float


@dataclass(frozen=True, slots=True, eq=False)
class Times:
    """Seconds of a trace. `moves[k]` and `events[k]` belong to move k and event k of it, repeated passes included.

    `total` is the time of the first pass (with `starts`, all of which lie in it); `uncounted` are what that total lacks. Standing at a stop
    until somebody goes on is no machine time and never counted.
    """

    moves: NDArray[np.float64]
    events: NDArray[np.float64]
    starts: tuple[SpindleStart, ...]
    total: float
    uncounted: tuple[Uncounted, ...]
    assumptions: tuple[str, ...]


def times(trace: Trace, machine: Machine) -> Times:
    """Time a trace on a machine. Exact sums; feed moves without acceleration, rapids from rest to rest."""
    clock = MoveClock(trace, machine)
    last = first_pass_events(trace)
    events, reasons = _event_seconds(trace, machine, clock, last)
    starts = _starts(trace, machine, last)
    total = fsum(clock.seconds[: trace.first_pass].tolist()) + fsum(events[:last].tolist())
    total += fsum(start.seconds for start in starts)
    return Times(
        clock.seconds,
        events,
        starts,
        total,
        _uncounted(trace, clock, reasons),
        _assumptions(trace, machine, clock, last),
    )


def first_pass_events(trace: Trace) -> int:
    """How many events the first pass has: all before the one that says that the program starts again."""
    return next((k for k, event in enumerate(trace.events) if event.kind == "repeat"), len(trace.events))


def _event_seconds(
    trace: Trace, machine: Machine, clock: MoveClock, last: int
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
            found = _tool_change(trace, event, machine, clock) if now != tool else 0.0
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


def _tool_change(trace: Trace, event: Event, machine: Machine, clock: MoveClock) -> float:
    """The profile's time; where the turret indexes during the block's move, only what the move does not cover."""
    seconds = float(machine.tool_change_seconds)
    k = event.at
    together = machine.choice("tool-with-motion") == "index-with-motion"
    if together and k < len(trace.moves) and int(trace.moves.block[k]) == event.block:
        return max(0.0, seconds - float(clock.seconds[k]))
    return seconds


def _starts(trace: Trace, machine: Machine, last: int) -> tuple[SpindleStart, ...]:
    """Every time in the first pass that the spindle begins to turn, or to turn the other way."""
    moves = trace.moves
    changes = np.flatnonzero(np.diff(moves.state[: trace.first_pass], prepend=-1)).tolist()
    seen = [(k, 1, int(moves.state[k]), int(moves.set_by[k]), int(moves.caller[k])) for k in changes]
    seen += [(e.at, 0, e.state, e.set_by, e.caller) for e in trace.events[:last]]
    found = []
    before: str | None = None
    for at, _, state, set_by, caller in sorted(seen, key=lambda row: row[:2]):
        sense = trace.states[state].sense
        if sense != before and sense in _TURNING:
            origin = trace.set_by[set_by][_SENSE]
            block = int(trace.origins.block[origin]) if origin >= 0 else -1
            found.append(SpindleStart(at, block, caller, float(machine.spindle.start_seconds)))
        before = sense
    return tuple(found)


def _uncounted(trace: Trace, clock: MoveClock, reasons: list[tuple[int, str]]) -> tuple[Uncounted, ...]:
    why = clock.why[: trace.first_pass]
    counts: dict[tuple[int, str], int] = {}
    for k in np.flatnonzero(why).tolist():
        key = (int(trace.moves.block[k]), clock.reasons[int(why[k])])
        counts[key] = counts.get(key, 0) + 1
    for key in reasons:
        counts[key] = counts.get(key, 0) + 1
    return tuple(Uncounted(block, reason, count) for (block, reason), count in sorted(counts.items()))


def _assumptions(trace: Trace, machine: Machine, clock: MoveClock, last: int) -> tuple[str, ...]:
    """What the total rests on, in words, as far as it plays a part."""
    events = trace.events[:last]
    straight = machine.choice("rapid-path") == "straight"
    path = "on the straight line" if straight else "each axis at its own rate"
    told = [
        f"a rapid goes {path}, from rest to rest; a feed move is taken without acceleration",
        "waiting for the spindle to reach another speed is not counted",
    ]
    if clock.without_clamp:
        told.append(
            f"constant surface speed without a known clamp: up to the machine's {_plain(machine.spindle.max_rpm)} rev/min"
        )
    if clock.beyond_rapid:
        told.append("a feed faster than a slide's rapid is taken at that rapid")
    if any(event.kind == "tool" for event in events):
        told.append(f"a tool change takes {_plain(machine.tool_change_seconds)} s")
    if (trace.moves.state.size and any(s.sense in _TURNING for s in trace.states)) or events:
        told.append(f"a spindle start takes {_plain(machine.spindle.start_seconds)} s, and what follows waits for it")
    if any(event.kind in _WAITS_FOR_SOMEBODY for event in events):
        told.append("standing at a program stop is not counted")
    if len(events) < len(trace.events):
        told.append("the program repeats: its first pass is counted")
    if trace.flow_unknown:
        told.append("the order of execution rests on statements that are not executed")
    names = [name for name in ("rapids", "accelerations", "spindle", "rapid-path") if not machine.is_verified(name)]
    if names:
        told.append(f"nobody verified at the machine: {', '.join(names)}")
    return tuple(told)


def _plain(value: Fraction) -> str:
    return str(value.numerator) if value.denominator == 1 else f"{float(value):g}"
