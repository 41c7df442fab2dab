"""The rule `word-out-of-reach`."""

from __future__ import annotations

from verifier.findings.examples import turning
from verifier.findings.faults import FaultRule
from verifier.findings.model import Weight
from verifier.findings.rule import Example


class WordOutOfReach(FaultRule):
    """A coordinate leads farther than any machine reaches.

    A blank, a letter or a point was lost, and two numbers have become one. The control stops with an alarm at the travel limit, or runs to it.
    """

    id = "word-out-of-reach"
    revision = 1
    weight = Weight.CRITICAL
    title = "A coordinate farther than any machine reaches."
    watch = "Do not start. Write the coordinate that was meant."
    codes = ("out-of-reach",)
    examples = (
        Example("letter lost between two numbers", turning("G01 Z-3010000000. F0.2"), True, line=7),
        Example("within reach", turning("G01 Z-30. F0.2"), False),
    )
