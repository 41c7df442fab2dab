"""The rule `drill-past-flute`."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from verifier.findings.contacts import contact_hazards
from verifier.findings.examples import on_bar, turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.view import Hazard, ProgramView
from verifier.geometry import DRILL_PAST_FLUTE
from verifier.machines import Tool

_SHEET = on_bar(
    Tool(1, "drill", orientation=7, diameter=Fraction(10), point_angle=Fraction(118), flute_length=Fraction(40))
)
_HOLE = "X0.\nG01 Z-{}. F0.1\nG00 Z5."


class DrillPastFlute(ProgramRule):
    """A drill goes deeper than its flutes are long.

    The swarf can't leave any more: it packs, the drill seizes and breaks in the hole.
    """

    id = "drill-past-flute"
    revision = 2
    weight = Weight.MAJOR
    title = "A drill goes deeper than its flute."
    watch = "Compare the depth of the hole with the length of the drill's flutes before it goes in."
    examples = (
        Example("deeper", turning(_HOLE.format(45)), True, line=8, setup=_SHEET),
        Example("no deeper", turning(_HOLE.format(39)), False, setup=_SHEET),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Every block that takes a drill deeper below where it entered than its flute length."""
        yield from contact_hazards(program, DRILL_PAST_FLUTE, "{tool} drills {amount} past its flute")
