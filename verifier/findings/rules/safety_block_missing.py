"""The rule `safety-block-missing`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.control import Sequence, meant
from verifier.findings.examples import asks_for, turning
from verifier.findings.model import Weight
from verifier.findings.phrases import joined
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.view import Hazard, ProgramView
from verifier.machines import code_name

_CUT = "G01 Z-30. F0.2"
_ASKED = asks_for("safety-block")
_NEEDED = (("compensation off", ("G40",)), ("the feed mode", ("G98", "G99")))
_AXES = frozenset("XZUW")


class SafetyBlockMissing(ProgramRule):
    """A sequence does not begin with its safety block.

    The block at its head puts off what another tool may have left on: nose compensation, the other feed mode. Without it a sequence that is started
    alone begins with whatever was in force.
    """

    id = "safety-block-missing"
    revision = 1
    weight = Weight.MINOR
    house = "safety-block"
    title = "A sequence without a safety block."
    watch = "Before this sequence is started alone, see on the control's page of modal codes what is in force."
    examples = (
        Example("no compensation off", turning(_CUT).replace("G40 ", ""), True, line=2, policy=_ASKED),
        Example("no feed mode", turning(_CUT).replace(" G99", ""), True, line=2, policy=_ASKED),
        Example("both", turning(_CUT), False, policy=_ASKED),
        Example("not asked for", turning(_CUT).replace("G40 ", ""), False),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Every sequence in whose blocks before the first axis word a needed code does not stand."""
        for sequence in program.sequences:
            if not sequence.tool:
                continue
            there = _opening(program, sequence)
            lacking = [
                f"{what} ({' or '.join(code_name(code, program.machine.code_set) for code in codes)})"
                for what, codes in _NEEDED
                if not there & set(codes)
            ]
            if lacking:
                title = f"{sequence.label} begins without a safety block: {joined(lacking)} not there"
                yield Hazard(sequence.entry, title, " ".join(lacking))


def _opening(program: ProgramView, sequence: Sequence) -> set[str]:
    """The meanings of the G words of a sequence up to its first block with an axis word."""
    found: set[str] = set()
    for index in range(sequence.first, sequence.end):
        words = program.block(index).words
        found |= {name for word in words if word.letter == "G" and (name := meant(word, program.machine))}
        if any(word.letter in _AXES for word in words) and index >= sequence.called:
            break
    return found
