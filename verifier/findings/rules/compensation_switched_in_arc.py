"""The rule `compensation-switched-in-arc`."""

from __future__ import annotations

from fractions import Fraction

from verifier.findings.examples import sheet, turning
from verifier.findings.faults import FaultRule
from verifier.findings.model import Weight
from verifier.findings.rule import Example
from verifier.machines import Tool

_TOOL = sheet(Tool(1, "turning", nose_radius=Fraction("0.8"), orientation=3))
_ON = "G00 X40. Z2.\nG01 Z0. F0.2\nG42 G03 X50. Z-5. R5.\nG01 Z-20.\nG40 X64."
_OFF = "G00 X40. Z2.\nG42 G01 Z0. F0.2\nX50.\nG40 G03 X60. Z-5. R5.\nG01 Z-20."


class CompensationSwitchedInArc(FaultRule):
    """Nose compensation is switched on or off in the block of an arc.

    Most controls want a straight move there and stop with an alarm; where one does not, the way it brings the nose to the contour is its own.
    """

    id = "compensation-switched-in-arc"
    revision = 1
    weight = Weight.MAJOR
    title = "Nose compensation is switched in an arc."
    watch = "Run this block in single block clear of the part; most controls stop here."
    codes = ("compensation-switched-in-arc",)
    examples = (
        Example("on in an arc", turning(_ON), True, line=9, setup=_TOOL),
        Example("off in an arc", turning(_OFF), True, line=10, setup=_TOOL),
        Example("on and off in straight moves", turning("G42 G01 X50. F0.2\nZ-20.\nG40 X64."), False, setup=_TOOL),
    )
