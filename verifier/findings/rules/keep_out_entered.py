"""The rule `keep-out-entered`."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from verifier.findings.contacts import contact_hazards
from verifier.findings.examples import INSERT, on_bar, turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.view import Hazard, ProgramView
from verifier.geometry import INTO_KEEP_OUT
from verifier.machines import KeepOut

_SHEET = on_bar(INSERT, zones=(KeepOut("jaws", Fraction(-100), Fraction(-60), Fraction(0), Fraction(120), "jaws"),))


class KeepOutEntered(ProgramRule):
    """A tool enters a zone that the setup sheet keeps out of: jaws, tailstock, steady.

    Turning jaws throw what they hit, and a slide that runs into a chuck wrecks both. Rapids and feeds count alike.
    """

    id = "keep-out-entered"
    revision = 2
    weight = Weight.CRITICAL
    people = True
    title = "A tool enters a keep-out zone."
    watch = "Do not start. Run the sequence without a part at a safe X, and measure from the tool to the jaws."
    examples = (
        Example("rapid beside the jaws", turning("G00 X150.\nZ-70.\nX110.\nX150."), True, line=9, setup=_SHEET),
        Example("feed up to the jaws", turning("X58.\nG01 Z-61. F0.2\nX62."), True, line=8, setup=_SHEET),
        Example("short of the jaws", turning("X58.\nG01 Z-59. F0.2\nX62."), False, setup=_SHEET),
        Example("no setup sheet", turning("X58.\nG01 Z-61. F0.2\nX62."), False),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Every block with a move whose tool overlaps a zone."""
        yield from contact_hazards(program, INTO_KEEP_OUT, "{tool} goes {amount} into {what}")
