"""The rule `expression-without-value`."""

from __future__ import annotations

from verifier.findings.examples import turning
from verifier.findings.faults import FaultRule
from verifier.findings.model import Weight
from verifier.findings.rule import Example


class ExpressionWithoutValue(FaultRule):
    """An expression that has no value: a division by zero, the root of a number below zero, a variable that does not exist.

    The control stops with an alarm there, with the tool where it is: in the cut, or in a bore.
    """

    id = "expression-without-value"
    revision = 1
    weight = Weight.MAJOR
    title = "An expression that has no value."
    watch = "Do not start before the expression is put right; look where the tool would stand at the alarm."
    codes = ("expression-impossible",)
    examples = (
        Example("divided by zero", turning("#1=0\nG01 X[60./#1] F0.1"), True, line=8),
        Example("root below zero", turning("#1=SQRT[-4.]\nG01 X58. F0.1"), True, line=7),
        Example("no such variable", turning("#300=1.\nG01 X58. F0.1"), True, line=7),
        Example("all have a value", turning("#1=SQRT[3600.]\nG01 X#1 F0.1"), False),
    )
