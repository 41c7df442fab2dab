"""Other ways in: each sequence started alone at its search number, as an operator restarting there would.

What a sequence does not set itself is not established then. Before its first cut that matters, and before the spindle turns: a spindle that is
started with S777 turns at 777 metres or feet a minute where whatever ran last left constant surface speed on, and without a clamp.
"""

from __future__ import annotations

from dataclasses import dataclass

from verifier.control.execute import execute_part
from verifier.control.sequences import Sequence
from verifier.control.strokes import Kind
from verifier.control.trace import InForce, Trace
from verifier.control.units import Library
from verifier.machines import Machine, Setup
from verifier.syntax import Program

NEEDED: dict[str, str] = {
    "feed_mode": "feed mode ({G98} or {G99})",
    "feed": "feed F",
    "speed_mode": "speed mode (G96 or G97)",
    "speed": "spindle speed S",
    "clamp": "speed clamp ({G50} S) under constant surface speed",
    "sense": "spindle sense (M03 or M04)",
    "coolant": "coolant (M08)",
    "tool": "tool",
    "offset": "tool offset",
    "work_offset": "work offset",
    "compensation": "nose compensation",
    "place": "position in X and Z before the first cut",
    "motion": "kind of motion (G00 or G01)",
    "distance": "coordinates or increments ({absolute} or {incremental})",
}
"""What a cut needs to be established, in shop words; codes in braces by their meaning (see `spoken`)."""

_TO_TURN = ("speed_mode", "speed", "clamp")
"""What of that a spindle needs to turn, cut or no cut."""


@dataclass(frozen=True, slots=True)
class WayIn:
    """A sequence entered alone: what its cuts lack, by the names of `NEEDED`, in that order; `cuts` is whether it cuts at all."""

    sequence: Sequence
    missing: tuple[str, ...]
    cuts: bool


def ways_in(
    program: Program,
    machine: Machine,
    found: tuple[Sequence, ...],
    *,
    setup: Setup | None = None,
    library: Library | None = None,
) -> tuple[WayIn, ...]:
    """Each sequence entered at its search number with nothing established before it."""
    result = []
    for sequence in found:
        trace = execute_part(program, machine, sequence.entry, sequence.end, setup=setup, library=library)
        missing = _missing(trace)
        result.append(
            WayIn(sequence, tuple(name for name in NEEDED if name in missing), bool((trace.moves.kind > 0).any()))
        )
    return tuple(result)


def _missing(trace: Trace) -> set[str]:
    missing: set[str] = set()
    moves = trace.moves
    for kind, state in sorted(set(zip(moves.kind.tolist(), moves.state.tolist(), strict=True))):
        missing |= lacking(trace.states[state], cuts=Kind(kind).cuts)
    first_cut = next((k for k, kind in enumerate(moves.kind.tolist()) if Kind(kind).cuts), None)
    if first_cut is not None and (moves.bx0[first_cut] or moves.bz0[first_cut]):
        missing.add("place")
    if any(fault.code == "motion-not-established" for fault in trace.faults):
        missing.add("motion")
    if any(fault.code == "distance-not-established" for fault in trace.faults):
        missing.add("distance")
    return missing


def lacking(state: InForce, *, cuts: bool) -> set[str]:
    """What is not established of what a move needs, by the names of `NEEDED`: a cut all of it, a rapid what the turning spindle needs."""
    needed = NEEDED if cuts else _TO_TURN if state.sense in ("forward", "reverse") else ()
    found = {name for name in needed if name in InForce._fields and getattr(state, name) is None}
    if state.speed_mode != "surface":
        found.discard("clamp")
    return found
