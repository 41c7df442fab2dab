"""The rule `program-end-missing`."""

from __future__ import annotations

from verifier.findings.examples import turning
from verifier.findings.faults import FaultRule
from verifier.findings.model import Weight
from verifier.findings.rule import Example


class ProgramEndMissing(FaultRule):
    """The text ends without a block that ends the program.

    The control runs on into the next program in memory, or stops with an alarm with spindle and coolant on. A file that was cut off on its way looks
    the same.
    """

    id = "program-end-missing"
    revision = 1
    weight = Weight.MAJOR
    title = "The program has no end."
    watch = "Ask for the whole program: the end may have been cut off on the way."
    codes = ("program-end-missing",)
    examples = (
        Example("M30 lost", turning("G01 Z-30. F0.2", tail="G00 X100. Z50.\nM09\nM05\n"), True, line=10),
        Example("M30 there", turning("G01 Z-30. F0.2"), False),
        Example("repeats with M99", turning("G01 Z-30. F0.2", tail="G00 X100. Z50.\nM09\nM05\nM99\n"), False),
    )
