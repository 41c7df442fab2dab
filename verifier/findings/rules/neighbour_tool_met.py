"""The rule `neighbour-tool-met`."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction

from verifier.findings.contacts import contact_hazards
from verifier.findings.examples import INSERT, on_bar, turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.view import Hazard, ProgramView
from verifier.geometry import NEIGHBOUR_MET
from verifier.machines import KeepOut, Tool, Turret

_TURRET = Turret(12)
_AT_WORK = replace(INSERT, from_turret_axis=Fraction(200), from_turret_face=Fraction(0))
_DRILL = Tool(
    2, "drill", diameter=Fraction(20), point_angle=Fraction(118), orientation=7, flute_length=Fraction(120),
    from_turret_axis=Fraction(165), from_turret_face=Fraction(50),
)  # fmt: skip
_JAWS = KeepOut("jaws", Fraction(-100), Fraction(-60), Fraction(0), Fraction(240), "jaws")
_SHEET = replace(on_bar(_AT_WORK, _DRILL, zones=(_JAWS,)), turret=_TURRET)


class NeighbourToolMet(ProgramRule):
    """While one tool works, a tool in another station of the turret runs into the piece or what holds it.

    A long drill or bar two stations on stands closer to the spindle than the tool at work: it meets the jaws although nothing is wrong at the
    edge that everybody watches. Where the tools sit is taken from the setup sheet; a turret whose axis is along Z.
    """

    id = "neighbour-tool-met"
    revision = 2
    weight = Weight.CRITICAL
    people = True
    title = "A tool of another station runs into piece or work-holding."
    watch = "Do not start. With the spindle stopped, run the tool at work to its deepest point and look at the tools beside it."
    examples = (
        Example("a long drill beside a turning tool", turning("X50.\nG01 Z-30. F0.2\nX62."), True, line=8, setup=_SHEET),
        Example("no deeper than the drill allows", turning("X50.\nG01 Z-9. F0.2\nX62."), False, setup=_SHEET),
        Example("no turret in the sheet", turning("X50.\nG01 Z-30. F0.2\nX62."), False, setup=replace(_SHEET, turret=None)),
    )  # fmt: skip

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Every block with a move on which the tool of another station overlaps piece or keep-out."""
        yield from contact_hazards(program, NEIGHBOUR_MET, "With {tool} at work {what} meet by {amount}")
