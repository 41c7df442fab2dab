"""The rule `subprogram-missing`."""

from __future__ import annotations

from verifier.findings.examples import turning
from verifier.findings.faults import FaultRule
from verifier.findings.model import Weight
from verifier.findings.rule import Example


class SubprogramMissing(FaultRule):
    """A subprogram is called that is neither in the file nor in the library, or the call names none.

    What the machine does in it was not checked. The control runs whatever it holds under that number.
    """

    id = "subprogram-missing"
    revision = 1
    weight = Weight.CRITICAL
    title = "A called program that is not there."
    watch = "Do not start before the called program has been handed in and checked with this one."
    codes = ("subprogram-missing", "call-without-program")
    examples = (
        Example("not in the file", turning("M98 P8001"), True, line=7),
        Example("no P", turning("M98"), True, line=7),
        Example("in the file", turning("M98 P8001") + "O8001\nG01 Z-5. F0.2\nM99\n", False),
    )
