"""The rule `integer-word-with-point`."""

from __future__ import annotations

from verifier.findings.examples import turning
from verifier.findings.faults import FaultRule
from verifier.findings.model import Weight
from verifier.findings.rule import Example


class IntegerWordWithPoint(FaultRule):
    """A word that controls read as a whole number has a decimal point.

    P and Q of the cycles and P of a dwell count least increments or milliseconds. With a point some controls stop with an alarm, others read a
    thousand times as much or as little: one peck as deep as the groove, a dwell of minutes. A block number with a point is a word whose letter
    is missing.
    """

    id = "integer-word-with-point"
    revision = 2
    weight = Weight.CRITICAL
    title = "A decimal point in a word that must be a whole number."
    watch = "Do not start. Write the word without a point, and check what it amounts to."
    codes = ("integer-word-with-point",)
    examples = (
        Example("peck with a point", turning("G75 R0.5\nG75 X50. Z-10. P1.5 Q2000 F0.1"), True, line=8),
        Example("dwell with a point", turning("G01 X50. F0.1\nG04 P1.5\nX62."), True, line=8),
        Example("a letter missing behind the block number", turning("N1158. F0.1\nX62."), True, line=7),
        Example("whole numbers", turning("G75 R0.5\nG75 X50. Z-10. P1500 Q2000 F0.1\nG04 P500"), False),
    )
