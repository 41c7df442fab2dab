"""The rule `return-not-possible`."""

from __future__ import annotations

from verifier.findings.examples import turning
from verifier.findings.faults import FaultRule
from verifier.findings.model import Weight
from verifier.findings.rule import Example


class ReturnNotPossible(FaultRule):
    """A called program ends without M99, or returns to a block that does not exist.

    The control runs on into the next program in memory, or stops with an alarm in the middle of the work.
    """

    id = "return-not-possible"
    revision = 1
    weight = Weight.MAJOR
    title = "A called program that does not return as it should."
    watch = "See in single block where the control goes on behind the called program."
    codes = ("subprogram-without-return", "return-label-missing")
    examples = (
        Example("no M99", turning("M98 P8001") + "O8001\nG01 Z-5. F0.2\n", True),
        Example("returns to no block", turning("M98 P8001") + "O8001\nG01 Z-5. F0.2\nM99 P900\n", True),
        Example("returns", turning("M98 P8001") + "O8001\nG01 Z-5. F0.2\nM99\n", False),
    )
