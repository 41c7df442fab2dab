"""The rule `call-or-return-wrong`."""

from __future__ import annotations

from verifier.findings.examples import turning
from verifier.findings.faults import FaultRule
from verifier.findings.model import Weight
from verifier.findings.rule import Example


class CallOrReturnWrong(FaultRule):
    """A call names a wrong number of repeats, or a called program does not return as it should.

    Without M99, or with a return to a block that is not there or there twice, the control runs on elsewhere, or stops with an alarm in the middle of
    the work. A call of no repeats runs once on one control and not at all on another, and a word that cannot be an argument is lost.
    """

    id = "call-or-return-wrong"
    revision = 2
    weight = Weight.MAJOR
    title = "A call or a return that does not say clearly what is run."
    watch = "See in single block where the control goes on behind the called program."
    codes = (
        "subprogram-without-return",
        "return-label-missing",
        "return-label-repeated",
        "call-repeats-wrong",
        "argument-wrong",
    )
    examples = (
        Example("no M99", turning("M98 P8001") + "O8001\nG01 Z-5. F0.2\n", True),
        Example("returns to no block", turning("M98 P8001") + "O8001\nG01 Z-5. F0.2\nM99 P900\n", True),
        Example("no repeats", turning("M98 P8001 L0") + "O8001\nG01 Z-5. F0.2\nM99\n", True, line=7),
        Example("no argument", turning("G65 P8001 A1. G40") + "O8001\nG01 Z-#1 F0.2\nM99\n", True, line=7),
        Example("returns", turning("M98 P8001") + "O8001\nG01 Z-5. F0.2\nM99\n", False),
    )
