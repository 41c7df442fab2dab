"""The rule `coolant-off-while-cutting`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.spells import label, spells, unknown_m_codes
from verifier.findings.view import Hazard, ProgramView

_CUT = "G01 Z-30. F0.2\nX62."
_DRY = (None, "off")


class CoolantOffWhileCutting(ProgramRule):
    """A sequence cuts dry in a program that uses coolant.

    A tool that is run wet elsewhere in the job burns or chips when it runs dry, and swarf stays in bores and grooves.
    """

    id = "coolant-off-while-cutting"
    revision = 1
    weight = Weight.MAJOR
    title = "Cutting without coolant in a program that uses coolant."
    watch = "See that coolant reaches the tool before the first cut of this sequence."
    examples = (
        Example(
            "M08 behind the first cut", turning("G01 Z-30. F0.2\nM08\nX62.").replace(" M08\n", "\n", 1), True, line=7
        ),
        Example("off too early", turning("G01 Z-30. F0.2\nM09\nX20."), True, line=9),
        Example("on", turning(_CUT), False),
        Example("a program that never uses coolant", turning(_CUT).replace(" M08", "").replace("M09\n", ""), False),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """The first dry cut of each sequence; less heavy where an unknown M code in front of it may be a coolant of its own."""
        if not any(state.coolant not in _DRY for state in program.trace.states):
            return
        unknown = [block for blocks in unknown_m_codes(program).values() for block in blocks]
        told: set[int] = set()
        for spell in spells(program):
            index = spell.sequence.index if spell.sequence else -1
            if spell.state.coolant not in _DRY or index in told:
                continue
            told.add(index)
            first = spell.sequence.first if spell.sequence else 0
            maybe = any(first <= block <= spell.block for block in unknown)
            words = "with coolant off" if spell.state.coolant == "off" else "with coolant not established"
            yield Hazard(
                spell.block,
                f"Cutting {words}{label(spell)}, in a program that uses coolant",
                "dry",
                Weight.MINOR if maybe else None,
                effects=spell.blocks,
            )
