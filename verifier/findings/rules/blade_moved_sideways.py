"""The rule `blade-moved-sideways`."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from verifier.findings.contacts import contact_hazards
from verifier.findings.examples import on_bar, turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.view import Hazard, ProgramView
from verifier.geometry import BLADE_SIDEWAYS
from verifier.machines import Tool

_BLADE = Tool(
    1, "grooving", orientation=3, blade_width=Fraction(3), blade_depth=Fraction(20), side_clearance=Fraction(1, 2)
)
_SHEET = on_bar(_BLADE)


class BladeMovedSideways(ProgramRule):
    """A blade is moved sideways in material deeper than its side clearance allows.

    A grooving or parting blade is ground to plunge. Deep in a groove a sideways feed bends and breaks it, and the piece with it.
    """

    id = "blade-moved-sideways"
    revision = 2
    weight = Weight.MAJOR
    title = "A blade cuts sideways, deeper than it may."
    watch = "Watch the blade at the bottom of the groove in single block; take the width by plunges beside each other."
    examples = (
        Example("at depth", turning("Z-20.\nG01 X56. F0.1\nZ-17.\nX62."), True, line=9, setup=_SHEET),
        Example("a light cut", turning("Z-20.\nG01 X59.2 F0.1\nZ-17.\nX62."), False, setup=_SHEET),
        Example("plunges", turning("Z-20.\nG01 X56. F0.1\nG00 X62.\nZ-18.\nG01 X56.\nG00 X62."), False, setup=_SHEET),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Every block that cuts sideways with more than the side clearance engaged."""
        says = "The blade of {tool} cuts sideways {amount} deeper than its side clearance"
        yield from contact_hazards(program, BLADE_SIDEWAYS, says)
