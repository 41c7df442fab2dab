"""Waiting for the spindle to stand: before a tool change behind a spindle stop, before what it must never meet turning, at the program's end.

The spindle slows down evenly, in proportion to the time that the profile gives from its greatest speed to rest; where it gives none, to that from
rest to its greatest speed. What the slides do after the stop covers some of it. That a change waits for the stop which the program asks for in
front of it is common practice, no source; a change with the spindle turning waits for nothing. What must never meet a turning spindle (an open
chuck) stands in the profile. At the program's end nobody reaches the piece before the spindle stands. Slowing down before a cut the other way
round or at a lower speed is part of the wait of that cut (`run_up`).
"""

from __future__ import annotations

from math import fsum

import numpy as np

from verifier.control import Event, Trace
from verifier.geometry.run_up import Rows, SpindleWait, Waits, seconds_down, standing, turning_speeds
from verifier.geometry.travel import Floats
from verifier.machines import Machine


def stop_waits(trace: Trace, machine: Machine, seconds: Floats, events: int) -> Waits:
    """The waits of the first pass. `seconds` of every move, `events`: how many events the first pass has; `unknown` as in `spindle_waits`.

    Where the stop comes at a diameter that only the machine knows, the last speed that is known counts.
    """
    each = float(seconds_down(machine.spindle) / machine.spindle.max_rpm)
    if not each:
        return Waits((), (), covered=False)
    first = trace.first_pass
    rows = np.arange(first)
    speed = np.abs(turning_speeds(trace, machine, rows))
    turns = speed != 0
    found, unknown, stopped_for = [], [], -1
    for event in _waiting(trace, machine, events):
        before = np.flatnonzero(turns[: event.at])
        if not standing(trace, event.state) or not len(before) or int(before[-1]) == stopped_for:
            continue
        last = stopped_for = int(before[-1])
        stretch = speed[before[_since_stood(before) :]]
        known = stretch[~np.isnan(stretch)]
        if not len(known):
            unknown.append(last)
            continue
        left = float(known[-1]) * each - fsum(seconds[last + 1 : event.at].tolist())
        if left > 0:
            found.append(SpindleWait(event.at, event.block, event.caller, left))
    return Waits(tuple(found), tuple(unknown), covered=False)


def _since_stood(before: Rows) -> int:
    """Where in a list of moves with the spindle turning the last stretch without a standstill begins."""
    gaps = np.flatnonzero(np.diff(before) > 1)
    return int(gaps[-1]) + 1 if len(gaps) else 0


def _waiting(trace: Trace, machine: Machine, events: int) -> list[Event]:
    """The events of the first pass that wait for a spindle told to stand: another tool, what it must not meet turning, the program's end."""
    found, tool, apart = [], None, _apart(machine)
    for event in trace.events[:events]:
        if event.kind == "program-end" or (event.kind == "auxiliary" and event.value in apart):
            found.append(event)
        elif event.kind == "tool":
            now = trace.states[event.state].tool
            if tool is not None and now != tool:
                found.append(event)
            tool = now
    return found


def _apart(machine: Machine) -> set[str]:
    """The states of auxiliaries that must never meet a turning spindle, as events tell them."""
    pairs = (pair for row in machine.never_together for pair in (row, row[::-1]))
    return {f"{name} {state}" for (first, _), (name, state) in pairs if first == "spindle" and name != "spindle"}
