"""The rule `value-missing-or-wrong`."""

from __future__ import annotations

from types import MappingProxyType
from typing import ClassVar

from verifier.findings.examples import turning
from verifier.findings.faults import FaultRule
from verifier.findings.model import Weight
from verifier.findings.rule import Example


class ValueMissingOrWrong(FaultRule):
    """A code stands without the value it needs, or with one below zero.

    A clamp that lost its S limits nothing. A dwell without a time waits not at all, or for whatever was given last.
    """

    id = "value-missing-or-wrong"
    revision = 2
    weight = Weight.MAJOR
    title = "A code without a value that it can work with."
    watch = "Ask which value was meant; what the control takes instead is its own choice."
    codes = (
        "dwell-without-time",
        "clamp-without-value",
        "clamp-not-positive",
        "negative-value",
        "work-offset-without-number",
        "start-angle-wrong",
        "lead-change-missing",
        "lead-runs-out",
        "offset-write-without-value",
        "nose-direction-wrong",
        "return-without-reference",
    )
    weights: ClassVar = MappingProxyType({"clamp-not-positive": Weight.CRITICAL})
    examples = (
        Example("G04 alone", turning("G01 X50. F0.1\nG04\nX62."), True, line=8),
        Example("G50 without S", turning("G01 X50. F0.1").replace("G50 S2000", "G50"), True, line=4),
        Example("clamp of zero", turning("G01 X50. F0.1").replace("G50 S2000", "G50 S0"), True, line=4),
        Example("feed below zero", turning("G01 X50. F-0.1"), True, line=7),
        Example("start angle beyond a turn", turning("G97 S500\nG32 Z-20. F1.5 Q720000"), True, line=8),
        Example("varying lead that runs out", turning("G97 S500\nG34 Z-20. F1.5 K-0.1"), True, line=8),
        Example("both with values", turning("G01 X50. F0.1\nG04 P500\nX62."), False),
    )
