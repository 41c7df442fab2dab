"""The rule `offset-not-established`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.examples import lathe, turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.spells import cutting, spells
from verifier.findings.view import Hazard, ProgramView

_CUT = "G01 Z-30. F0.2"
_KEEPS = lathe(reset_restores=("units", "plane", "compensation"))
_FIELDS = {
    "tool": "No tool is called before the first cut: whatever stands in the turret cuts",
    "offset": "No tool offset is established at the first cut",
    "work_offset": "No work offset (G54 to G59) is established at the first cut: the one left from before counts",
    "compensation": "Nose compensation is not established at the first cut: neither G40, G41 nor G42 is given",
}


class OffsetNotEstablished(ProgramRule):
    """Cuts are made before the program says what they are measured from.

    Tool, tool offset, work offset or nose compensation are whatever the program before left, or the first place is one that only the machine knows.
    After another job the whole part lies elsewhere.
    """

    id = "offset-not-established"
    revision = 1
    weight = Weight.MINOR
    title = "What the cuts are measured from is not established."
    watch = "Before the first cut, compare tool, offset and work offset on the control with the setup sheet."
    examples = (
        Example("no tool called", turning(_CUT).replace("T0101\n", ""), True, line=6),
        Example(
            "no work offset, on a machine that keeps the last one",
            turning(_CUT).replace(" G54", ""),
            True,
            machine=_KEEPS,
        ),
        Example(
            "cuts from where the tool happens to be",
            turning("G01 W-30. F0.2").replace("G00 X62. Z2. M08\n", "M08\n"),
            True,
        ),
        Example("all given", turning(_CUT), False),
        Example("work offset given", turning(_CUT), False, machine=_KEEPS),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """The first cut without each of them, once for the whole program; and the first cut of all where its place is not known."""
        waiting = dict(_FIELDS)
        for spell in spells(program):
            for name in [name for name in waiting if getattr(spell.state, name) is None]:
                yield Hazard(spell.block, waiting.pop(name), name, effects=spell.blocks)
        trace, moves = program.trace, program.trace.moves
        rows = cutting(trace)[:1].tolist()
        if rows and (moves.bx0[rows[0]] or moves.bz0[rows[0]]):
            where = " and ".join(axis for axis, base in (("X", moves.bx0), ("Z", moves.bz0)) if base[rows[0]])
            title = f"The first cut starts at a place in {where} that only the machine knows"
            yield Hazard(int(moves.block[rows[0]]), title, "place")
