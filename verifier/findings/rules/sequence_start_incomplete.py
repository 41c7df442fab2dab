"""The rule `sequence-start-incomplete`."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from verifier.control import NEEDED, Sequence, WayIn, lacking
from verifier.findings.examples import HEAD, turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.spells import cutting, main_blocks, sequence_numbers
from verifier.findings.view import Hazard, ProgramView
from verifier.machines import spoken

_FIRST = HEAD + "G01 Z-30. F0.2\nG00 X100. Z50.\nM09\nM05\nM01\n"
_SECOND = "N2 G00 G40 G97 G99\nT0202\nG50 S2000\nG96 S200 M03\nG00 X62. Z2. M08\nG01 Z-30. F0.1\nG00 X100. Z50.\nM09\nM05\nG97\nM30\n"

_SURFACE_LATE = "N2 G00 G40 G99\nT0202\nS900 M03\nG00 X62. Z2. M08\nG50 S2000\nG96 S200\nG01 Z-30. F0.1\nG00 X100. Z50.\nM09\nM05\nM30\n"


class SequenceStartIncomplete(ProgramRule):
    """A sequence started alone at its search number lacks what only the sequences before it establish.

    From the top all is well. After a broken insert the operator searches the sequence and starts there: then the feed mode, the clamp or the spindle
    sense of whatever ran last is in force.
    """

    id = "sequence-start-incomplete"
    revision = 2
    weight = Weight.MAJOR
    people = True
    title = "A sequence that cannot be started alone."
    watch = "Do not restart at this sequence; start from the top, or from one that sets all it needs."
    examples = (
        Example(
            "clamp and coolant only in the first sequence",
            _FIRST + _SECOND.replace("G50 S2000\n", "").replace(" M08", ""),
            True,
        ),
        Example(
            "turned on its way in by the mode of the sequence before",
            _FIRST.replace("M09", "G97 S900\nM09") + _SURFACE_LATE,
            True,
        ),
        Example("all set again", _FIRST + _SECOND, False),
        Example("one sequence", turning("G01 Z-30. F0.2"), False),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """For each sequence that cuts, but the first, everything missing that the run from the top has."""
        from_top = _missing_from_top(program)
        for way in program.side.ways_in[1:]:  # the first one is started from the top
            if way.sequence.index not in from_top:
                continue  # skipped in this position of the switches
            for name in _told(way, from_top[way.sequence.index]):
                # One hazard for each, so that what an edit adds to or takes from the missing is new or gone by itself.
                lacking = spoken(NEEDED[name], program.machine.code_set)
                yield Hazard(
                    way.sequence.entry, f"Started alone at {way.sequence.label}: not established: {lacking}", name
                )


def _told(way: WayIn, from_top: frozenset[str]) -> tuple[str, ...]:
    """What is missing from the top as well is no matter of where it is started: other rules speak of it."""
    return tuple(name for name in way.missing if name not in from_top) if way.cuts else ()


def _missing_from_top(program: ProgramView) -> dict[int, frozenset[str]]:
    """For each sequence that cuts what its moves lack when the program runs from the top."""
    trace, moves = program.trace, program.trace.moves
    blocks = main_blocks(trace)
    rows = cutting(trace)
    owner = sequence_numbers(program, blocks[rows])
    found: dict[int, set[str]] = {}
    for index, first in zip(*(column.tolist() for column in np.unique(owner, return_index=True)), strict=True):
        row = rows[first]
        found[index] = {"place"} if moves.bx0[row] or moves.bz0[row] else set()
    found.pop(-1, None)
    everywhere = zip(sequence_numbers(program, blocks).tolist(), moves.state.tolist(), moves.kind.tolist(), strict=True)
    for index, state, kind in set(everywhere):
        if index in found:
            found[index] |= lacking(trace.states[state], cuts=kind > 0)
    for sequence in program.sequences:
        if _missing(program, sequence, "motion-not-established"):
            found.setdefault(sequence.index, set()).add("motion")
        if _missing(program, sequence, "distance-not-established"):
            found.setdefault(sequence.index, set()).add("distance")
    return {index: frozenset(names) for index, names in found.items()}


def _missing(program: ProgramView, sequence: Sequence, code: str) -> bool:
    return any(fault.code == code and sequence.first <= fault.block < sequence.end for fault in program.trace.faults)
