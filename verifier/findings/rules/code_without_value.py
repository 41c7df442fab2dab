"""The rule `code-without-value`."""

from __future__ import annotations

from verifier.findings.examples import turning
from verifier.findings.faults import FaultRule
from verifier.findings.model import Weight
from verifier.findings.rule import Example


class CodeWithoutValue(FaultRule):
    """A dwell stands without a time, or G50 without a speed and without an axis word.

    A clamp that lost its S limits nothing. A dwell without a time waits not at all, or for whatever was given last.
    """

    id = "code-without-value"
    revision = 1
    weight = Weight.MAJOR
    title = "A code without the value it needs."
    watch = "Ask which value was meant; what the control takes instead is its own choice."
    codes = ("dwell-without-time", "clamp-without-value")
    examples = (
        Example("G04 alone", turning("G01 X50. F0.1\nG04\nX62."), True, line=8),
        Example("G50 without S", turning("G01 X50. F0.1").replace("G50 S2000", "G50"), True, line=4),
        Example("both with values", turning("G01 X50. F0.1\nG04 P500\nX62."), False),
    )
