"""The rule `contradicting-words`."""

from __future__ import annotations

from verifier.control import Fault
from verifier.findings.examples import turning
from verifier.findings.faults import FaultRule, sentence
from verifier.findings.model import Weight
from verifier.findings.rule import Example
from verifier.findings.view import ProgramView


class ContradictingWords(FaultRule):
    """A block holds one letter twice, two codes of one group, both forms of an arc, or one axis both ways.

    Most controls take the last one, some stop. One of the two was not meant, and the block does not say which.
    """

    id = "contradicting-words"
    revision = 1
    weight = Weight.MAJOR
    title = "Two words of a block contradict each other."
    watch = "Ask which of the two was meant; some controls take the last one, others stop with an alarm."
    codes = ("two-codes-of-one-group", "word-twice", "arc-by-two-forms", "axis-named-twice", "axis-words-wanted-twice")
    examples = (
        Example("Z twice", turning("G01 Z-30. Z-3. F0.2"), True, line=7),
        Example("rapid and feed", turning("G00 G01 Z-30. F0.2"), True, line=7),
        Example("one axis both ways", turning("G01 Z-3. W-3. F0.2"), True, line=7),
        Example("a move beside a dwell", turning("G01 G04 X2. F0.2"), True, line=7),
        Example("radius and centre", turning("G02 X72. Z-3. R5. K-5. F0.2"), True, line=7),
        Example("codes of two groups", turning("G01 G99 Z-30. F0.2"), False),
    )

    def title_of(self, fault: Fault, program: ProgramView) -> str:
        """The words that contradict each other."""
        if fault.code != "word-twice":
            return sentence(fault.message)
        words = [word.text for word in program.block(fault.block).words if word.letter == fault.text[:1].upper()]
        return f"{sentence(fault.message)}: {' and '.join(words)}" if len(words) > 1 else sentence(fault.message)
