"""The rule `speed-missing`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.spells import label, spells
from verifier.findings.view import Hazard, ProgramView

_CUT = "G01 Z-30. F0.2\nX62."


class SpeedMissing(ProgramRule):
    """The spindle is started and cuts are made with no speed established.

    It turns at whatever speed was left from another program, or not at all.
    """

    id = "speed-missing"
    revision = 1
    weight = Weight.MAJOR
    people = True
    title = "A cut without a spindle speed."
    watch = "Stop before the first cut of this sequence, and see which speed the control shows."
    examples = (
        Example("S lost", turning(_CUT).replace("G96 S180 M03", "G96 M03"), True, line=7),
        Example("S of zero", turning(_CUT).replace("G96 S180 M03", "G97 S0 M03"), True, line=7),
        Example("S given", turning(_CUT), False),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """The first cut of each sequence without a speed while the spindle is on."""
        told: set[int] = set()
        for spell in spells(program):
            state, index = spell.state, spell.sequence.index if spell.sequence else -1
            if state.sense not in ("forward", "reverse") or (state.speed is not None and state.speed != 0):
                continue
            if index not in told:
                told.add(index)
                what = "with no spindle speed established" if state.speed is None else "at a spindle speed of zero"
                yield Hazard(spell.block, f"Cutting {what}{label(spell)}", str(state.speed), effects=spell.blocks)
