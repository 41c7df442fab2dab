"""The rule `compensation-corner-unseen`."""

from __future__ import annotations

from fractions import Fraction

from verifier.findings.examples import sheet, turning
from verifier.findings.faults import FaultRule
from verifier.findings.model import Weight
from verifier.findings.rule import Example
from verifier.machines import Tool

_TOOL = sheet(Tool(1, "turning", nose_radius=Fraction("0.8"), orientation=3))
_CUT = "G42 G01 X50. F0.2\nZ-20.\n{between}X60.\nG40 X64."


class CompensationCornerUnseen(FaultRule):
    """Two or more blocks without motion hide the next move from nose compensation.

    The control reads only so far ahead. Where it does not see the next move, the nose goes square to the end of this one: at an inner corner that
    is a cut into the wall by the nose radius (common practice, no source; how far a control looks ahead is its own).
    """

    id = "compensation-corner-unseen"
    revision = 1
    weight = Weight.MAJOR
    title = "A corner that nose compensation does not see."
    watch = "Move the blocks without motion out from between these two moves, or watch this corner in single block clear of the part."
    codes = ("compensation-corner-unseen",)
    examples = (
        Example("two blocks without motion", turning(_CUT.format(between="M09\nM08\n")), True, line=8, setup=_TOOL),
        Example("one block without motion", turning(_CUT.format(between="M09\n")), False, setup=_TOOL),
    )
