"""The rule `skip-mark-in-mid-block`."""

from __future__ import annotations

from verifier.findings.examples import lathe, turning
from verifier.findings.faults import FaultRule
from verifier.findings.model import Weight
from verifier.findings.rule import Example

_CUT = "G01 Z-30. F0.2 /M09"
_LATHE = lathe(choices={"skip-mid-block": "not-allowed"})


class SkipMarkInMidBlock(FaultRule):
    """A skip mark stands behind the first word of a block, on a control that does not allow that.

    The control stops with an alarm, or reads the mark as a division and the number before it as another one.
    """

    id = "skip-mark-in-mid-block"
    revision = 1
    weight = Weight.MAJOR
    title = "A skip mark inside a block, where this control does not allow one."
    watch = "Move the skip mark to the start of a block of its own."
    codes = ("skip-in-mid-block",)
    examples = (
        Example("in front of M09", turning(_CUT), True, line=7, machine=_LATHE),
        Example("at the start of a block", turning("G01 Z-30. F0.2\n/M09"), False, machine=_LATHE),
        Example("allowed on the generic lathe", turning(_CUT), False),
    )
