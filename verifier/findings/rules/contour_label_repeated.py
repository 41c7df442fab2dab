"""The rule `contour-label-repeated`."""

from __future__ import annotations

from verifier.findings.examples import turning
from verifier.findings.faults import FaultRule
from verifier.findings.model import Weight
from verifier.findings.rule import Example

_CYCLE = "G71 U2. R0.5\nG71 P100 Q110 U0.5 W0.1 F0.3\nN100 G00 X30.\nG01 Z-20. F0.1\nN110 X62."


class ContourLabelRepeated(FaultRule):
    """A cycle names a block number for its contour that the file holds more than once.

    Which one counts is the control's choice: the first in the file, or the first behind the cycle. One of the two is another contour.
    """

    id = "contour-label-repeated"
    revision = 1
    weight = Weight.MAJOR
    title = "A contour label that stands more than once."
    watch = "See in single block at which of the equal block numbers the cycle begins its contour."
    codes = ("contour-label-repeated",)
    together = True
    examples = (
        Example("N100 twice", turning(_CYCLE + "\nG00 X62. Z2.\nN100 G01 Z-1. F0.2"), True, line=8),
        Example("once", turning(_CYCLE), False),
    )
