"""The rule `index-swing-met`."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction

from verifier.findings.contacts import contact_hazards
from verifier.findings.examples import INSERT, on_bar, turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.view import Hazard, ProgramView
from verifier.geometry import SWING_MET
from verifier.machines import KeepOut, Tool, Turret

_TURRET = Turret(12)
_AT_WORK = replace(INSERT, from_turret_axis=Fraction(200), from_turret_face=Fraction(0))
_DRILL = Tool(
    7, "drill", diameter=Fraction(20), point_angle=Fraction(118), orientation=7, flute_length=Fraction(120),
    from_turret_axis=Fraction(165), from_turret_face=Fraction(150),
)  # fmt: skip
_JAWS = KeepOut("jaws", Fraction(-100), Fraction(-60), Fraction(0), Fraction(240), "jaws")
_SHEET = replace(on_bar(_AT_WORK, _DRILL, zones=(_JAWS,)), turret=_TURRET)
_NEXT = "T0707\nG00 X0. Z5.\nG01 Z-10. F0.1\nG00 Z5."


class IndexSwingMet(ProgramRule):
    """When the turret indexes, what stands out of it sweeps through the piece or what holds it.

    The tool at work may stand clear: the longest one swings past. Which way round the turret turns is not known here, so that every tool of the
    setup sheet counts. A turret whose axis is along Z is taken.
    """

    id = "index-swing-met"
    revision = 2
    weight = Weight.CRITICAL
    people = True
    title = "The turret indexes, and a tool swings into piece or work-holding."
    watch = (
        "Do not start. Stop in single block before this tool word, and turn the turret by hand, one station at a time."
    )
    examples = (
        Example("beside the jaws", turning(f"G00 X80. Z20.\n{_NEXT}"), True, line=8, setup=_SHEET),
        Example("far enough out", turning(f"G00 X200. Z200.\n{_NEXT}"), False, setup=_SHEET),
        Example("no turret in the sheet", turning(f"G00 X80. Z20.\n{_NEXT}"), False, setup=replace(_SHEET, turret=None)),
    )  # fmt: skip

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Every tool word at which what a tool sweeps overlaps piece or keep-out."""
        yield from contact_hazards(program, SWING_MET, "When the turret leaves {tool}, {what} meet by {amount}")
