"""The rule `corner-or-angle-not-possible`."""

from __future__ import annotations

from verifier.findings.examples import turning
from verifier.findings.faults import FaultRule
from verifier.findings.model import Weight
from verifier.findings.rule import Example


class CornerOrAngleNotPossible(FaultRule):
    """A chamfer, a round or an angle does not fit the moves on both sides of it.

    It rests on two blocks: whoever shortens the next move, takes it away or turns it into a rapid breaks the corner before it. Most controls stop
    with an alarm there, in the middle of the part.
    """

    id = "corner-or-angle-not-possible"
    revision = 1
    weight = Weight.MAJOR
    title = "A corner or an angle that does not fit its moves."
    watch = "Run this block and the next in single block, clear of the part, and see whether the control takes them."
    codes = (
        "corner-longer-than-move",
        "corner-without-next-move",
        "corner-not-possible",
        "corner-in-other-plane",
        "angle-not-possible",
        "angle-line-without-end",
    )
    examples = (
        Example("chamfer longer than the next move", turning("G01 Z-20. ,C5. F0.2\nX66."), True, line=7),
        Example("nothing to round to", turning("G01 Z-20. ,R2. F0.2\nG00 X80."), True, line=7),
        Example("a line along Z to another X", turning("G01 X70. A180. F0.2"), True, line=7),
        Example("fits", turning("G01 Z-20. ,C1. F0.2\nX70. ,R1.\nZ-30."), False),
    )
