"""The rule `contour-label-missing`."""

from __future__ import annotations

from verifier.findings.examples import turning
from verifier.findings.faults import FaultRule
from verifier.findings.model import Weight
from verifier.findings.rule import Example

_CYCLE = "G71 U2. R0.5\nG71 P{p} Q110 U0.5 W0.1 F0.3\nN100 G00 X30.\nG01 Z-20. F0.1\nN110 X62."


class ContourLabelMissing(FaultRule):
    """A cycle names a block number for its contour that is nowhere to be found.

    The control stops with an alarm at the cycle, or searches on into another part of the file and cuts what it finds there.
    """

    id = "contour-label-missing"
    revision = 1
    weight = Weight.CRITICAL
    title = "A contour label that is not there."
    watch = "Do not start. Check P and Q of the cycle against the block numbers of its contour."
    codes = ("contour-label-missing",)
    together = True
    examples = (
        Example("renumbered contour, old P", turning(_CYCLE.format(p=10)), True, line=8),
        Example("Q of another contour", turning(_CYCLE.format(p=100).replace("Q110", "Q120")), True, line=8),
        Example("found", turning(_CYCLE.format(p=100)), False),
    )
