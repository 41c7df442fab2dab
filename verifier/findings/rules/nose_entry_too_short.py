"""The rule `nose-entry-too-short`."""

from __future__ import annotations

from fractions import Fraction

from verifier.findings.examples import sheet, turning
from verifier.findings.faults import FaultRule
from verifier.findings.model import Weight
from verifier.findings.rule import Example
from verifier.machines import Tool

_TOOL = sheet(Tool(1, "turning", nose_radius=Fraction("0.8"), orientation=3))
_CUT = "G00 X{x} Z2.\nG42 G01 X50. F0.2\nZ-20.\nG40 X64."


class NoseEntryTooShort(FaultRule):
    """The move that switches nose compensation on is shorter than the nose radius.

    In that move the nose is brought to its side of the contour. Without room for it the nose is beside the contour only after the cut has begun, or
    the control stops. NISTIR 6556 (section 3.5.10) calls it an error for milling; that lathes want more than a radius is common practice, no source.
    """

    id = "nose-entry-too-short"
    revision = 1
    weight = Weight.MAJOR
    settled = True
    title = "Too short a move switches nose compensation on."
    watch = "Run the approach in single block with the part out of reach, and see where the nose goes."
    codes = ("entry-shorter-than-nose",)
    examples = (
        Example("half a millimetre", turning(_CUT.format(x="51.")), True, line=8, setup=_TOOL),
        Example("five millimetres", turning(_CUT.format(x="60.")), False, setup=_TOOL),
    )
