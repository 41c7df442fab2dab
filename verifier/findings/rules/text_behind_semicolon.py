"""The rule `text-behind-semicolon`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.control import Fault
from verifier.findings.examples import lathe, turning
from verifier.findings.faults import FaultRule, sentence
from verifier.findings.model import Weight
from verifier.findings.problems import located
from verifier.findings.rule import Example
from verifier.findings.view import Hazard, ProgramView

_CUT = "G01 Z-30. F0.2"


class TextBehindSemicolon(FaultRule):
    """Text stands behind a semicolon that one control takes for a note and another for the next block.

    Words meant as a note are run, or a block that was meant to be run is left out.
    """

    id = "text-behind-semicolon"
    revision = 1
    weight = Weight.MAJOR
    title = "Text behind a semicolon that may be a block of its own."
    watch = "Compare these lines on the control's screen with the file after loading."
    codes = ("text-after-end-of-block",)
    problem_codes = ("code-after-semicolon",)
    examples = (
        Example("words behind a semicolon", turning(_CUT + " ; G00 X62."), True, line=7),
        Example(
            "a note, where a semicolon ends the block",
            turning(_CUT + " ; ROUGH"),
            True,
            line=7,
            machine=lathe(choices={"semicolon": "end-of-block"}),
        ),
        Example("a note", turning(_CUT + " ; ROUGH"), False),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Each such block once, by what this control does or, where it takes a note, by what another would."""
        told: set[int] = set()
        for hazard in super().check(program):
            told.add(hazard.block)
            yield hazard
        for found in located(program):
            if found.problem.code in self.problem_codes and found.block not in told:
                told.add(found.block)
                text = found.problem.text[:60]
                yield Hazard(
                    found.block, sentence(found.problem.message), f"semicolon {text}", column=found.problem.span.column
                )

    def same_as(self, fault: Fault) -> str:
        """The text behind the semicolon."""
        return f"semicolon {fault.text[:60]}"
