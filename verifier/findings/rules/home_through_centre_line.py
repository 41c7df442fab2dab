"""The rule `home-through-centre-line`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.phrases import end_of, start_of
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.view import Hazard, ProgramView

_CUT = "G01 Z-30. F0.2\nX62.\n{}\nM01\nN2 T0303\nG97 S800 M03\nG00 X62. Z-20.\nG01 X50. F0.1\nX62."


class HomeThroughCentreLine(ProgramRule):
    """The way to the reference point leads by rapid to the centre line or beyond it first (G28 X0 where U0 was meant).

    The place that a return block names is driven to before the reference point. X0 is the middle of the part.
    """

    id = "home-through-centre-line"
    revision = 1
    weight = Weight.CRITICAL
    people = True
    title = "The way home leads through the centre line."
    watch = "Do not run this block; find out whether U0 was meant."
    examples = (
        Example("X0 for U0", turning(_CUT.format("G28 X0.")), True, line=9),
        Example("U0", turning(_CUT.format("G28 U0.\nG28 W0.")), False),
        Example("by way of a place clear of the part", turning(_CUT.format("G28 X80. Z20.")), False),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Every way to a reference point by a known place on the other side of the centre line, or on it; clear in front of all cuts it is minor."""
        ahead = max((item.end.z for item in program.cuts if not item.end.bz), default=None)
        for item in program.items:
            known = not (item.start.bx or item.end.bx)
            if item.step != "by way of" or not known or not item.start.x or item.start.x * item.end.x > 0:
                continue
            clear = ahead is not None and not (item.start.bz or item.end.bz) and min(item.start.z, item.end.z) > ahead
            yield Hazard(
                item.block,
                f"The way home leads from {start_of(item, program.units)} to {end_of(item, program.units)} first",
                "home",
                Weight.MINOR if clear else None,
            )
