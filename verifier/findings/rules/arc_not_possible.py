"""The rule `arc-not-possible`."""

from __future__ import annotations

from verifier.control import Fault
from verifier.findings.examples import turning
from verifier.findings.faults import FaultRule, sentence
from verifier.findings.model import Weight
from verifier.findings.rule import Example
from verifier.findings.view import ProgramView


class ArcNotPossible(FaultRule):
    """The radius or the centre of an arc does not fit its start and its end.

    Some controls stop with an alarm in the middle of the part; others bend the curve or jump at its end, and the radius is scrap.
    """

    id = "arc-not-possible"
    revision = 1
    weight = Weight.MAJOR
    title = "An arc that does not fit its end points."
    watch = "Run this block in single block, clear of the part, and see whether the control takes it."
    codes = ("arc-impossible", "arc-ends-off-circle")
    examples = (
        Example("radius too short", turning("G01 X50. F0.2\nG02 X60. Z-20. R5."), True, line=8),
        Example("centre off", turning("G01 X50. Z0. F0.2\nG02 X60. Z-5. I5. K0.5"), True, line=8),
        Example("neither R nor I and K", turning("G01 X50. Z0. F0.2\nG02 X60. Z-5."), True, line=8),
        Example("fits", turning("G01 X50. Z0. F0.2\nG02 X60. Z-5. R5."), False),
    )

    def title_of(self, fault: Fault, program: ProgramView) -> str:
        """What does not fit; an arc without any measure is most often a straight move behind one."""
        del program
        if fault.code == "arc-impossible" and not fault.text:
            return (
                "A move while G02 or G03 is in force has neither R nor I and K: some controls go straight, others stop"
            )
        return sentence(fault.message)
