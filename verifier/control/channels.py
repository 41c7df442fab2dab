"""The program of the machine's other channel, as the setup sheet names it: whether the two meet at every wait."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from verifier.control.trace import Fault, Trace, Unchecked
from verifier.control.units import Layout, Library, layout
from verifier.control.waits import Unmatched, Wait, unmatched, waits
from verifier.machines import Setup
from verifier.syntax import Program

Run = Callable[[Program, int, int], Trace]


def with_other_channel(
    trace: Trace, program: Program, plan: Layout, setup: Setup | None, library: Library, run: Run
) -> Trace:
    """The trace with a fault where it and the other channel's program do not meet; unchanged where the setup sheet names no other one."""
    number = setup.other_channel if setup is not None else None
    if number is None:
        return trace
    found, there = program, plan.unit(number)
    if there is None and number in library.programs:
        found = library.programs[number]
        there = layout(found).unit(number)
    if there is None:
        missing = Unchecked(
            f"waits for program {number}", "the other channel's program is neither in the file nor in the library", None
        )
        return replace(trace, unchecked=(*trace.unchecked, missing))
    parted = unmatched(waits(trace), waits(run(found, there.first, there.end)))
    return trace if parted is None else replace(trace, faults=(*trace.faults, _fault(parted, number, trace)))


def _fault(parted: Unmatched, number: int, trace: Trace) -> Fault:
    own = parted.first
    block = own.block if own is not None else int(trace.events[-1].block) if trace.events else 0
    text = own.code if own is not None else ""
    return Fault(
        "wait-unmatched",
        block,
        f"after {parted.met} common waits this program {_does(own)} while program {number} {_does(parted.second)}",
        text,
    )


def _does(wait: Wait | None) -> str:
    return "goes on to its end" if wait is None else f"waits at {wait.code}"
