"""Other ways in: each sequence started alone at its search number, as an operator restarting there would.

What a sequence does not set itself is not established then. Before its first cut that matters, and before the spindle turns: a spindle that is
started with S777 turns at 777 metres or feet a minute where whatever ran last left constant surface speed on, and without a clamp.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

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

_ELSEWHERE = {"G": (65, 66, 67, 70, 71, 72, 73), "M": (97, 98, 99, 198)}
"""Codes that lead out of the blocks that they stand in, or name other blocks."""

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
    like: tuple[Program, Iterable[WayIn]] | None = None,
) -> tuple[WayIn, ...]:
    """Each sequence entered at its search number with nothing established before it.

    `like`: another program and its ways in, on the same machine with the same sheet and library. A sequence that reads the same in both and leads
    nowhere else is not executed again.
    """
    known = {_text(like[0], way.sequence): way for way in like[1]} if like is not None else {}
    result = []
    for sequence in found:
        same = known.get(_text(program, sequence))
        if same is not None and not _leads_elsewhere(program, machine, sequence):
            result.append(replace(same, sequence=sequence))
            continue
        trace = execute_part(program, machine, sequence.entry, sequence.end, setup=setup, library=library)
        missing = _missing(trace)
        result.append(
            WayIn(sequence, tuple(name for name in NEEDED if name in missing), bool((trace.moves.kind > 0).any()))
        )
    return tuple(result)


def _text(program: Program, sequence: Sequence) -> bytes:
    """The lines of a sequence from its entry on, as they are written."""
    lines, source = program.columns.line, program.source
    return source.data[source.starts[lines[sequence.entry] - 1] : source.ends[lines[sequence.end - 1] - 1]]


def _leads_elsewhere(program: Program, machine: Machine, sequence: Sequence) -> bool:
    """Whether what a sequence does may rest on blocks outside it: by a call, a jump, a contour named by its labels, or anything but plain words."""
    columns = program.columns
    if machine.calls or machine.label_calls or not columns.plain[sequence.entry : sequence.end].all():
        return True
    words = slice(int(columns.row[sequence.entry]), int(columns.row[sequence.end]))
    codes = columns.mantissa[words] // 10 ** np.maximum(columns.decimals[words].astype(np.int64), 0)
    letters = columns.letter[words]
    return bool(
        any(np.isin(codes[letters == ord(letter)], elsewhere).any() for letter, elsewhere in _ELSEWHERE.items())
    )


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
