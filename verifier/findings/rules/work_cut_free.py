"""The rule `work-cut-free`."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from verifier.findings.contacts import contact_hazards
from verifier.findings.examples import on_bar, turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.view import Hazard, ProgramView
from verifier.geometry import CUT_FREE
from verifier.machines import Tool

_SHEET = on_bar(Tool(1, "parting", orientation=3, blade_width=Fraction(3), blade_depth=Fraction(40)))


class WorkCutFree(ProgramRule):
    """A piece is cut free, and no catcher is out and no quill or second spindle holds it.

    It falls or flies at the speed of that moment, into the swarf, between the jaws or against the door. Where that is the habit of the machine, it
    is accepted once.
    """

    id = "work-cut-free"
    revision = 3
    weight = Weight.MINOR
    title = "A piece is cut free with nothing to catch it."
    watch = "Look where the piece falls; lower the speed for the last millimetre, or put the catcher out."
    examples = (
        Example("parted off", turning("Z-50.\nG01 X-0.2 F0.05\nG00 X62."), True, line=8, setup=_SHEET),
        Example("not through", turning("Z-50.\nG01 X2. F0.05\nG00 X62."), False, setup=_SHEET),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Every block that parts a piece from what is held."""
        says = "{tool} cuts a piece of {amount} free, and nothing in the program catches or holds it"
        yield from contact_hazards(program, CUT_FREE, says)
