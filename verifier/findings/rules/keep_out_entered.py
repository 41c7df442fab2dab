"""The rule `keep-out-entered`."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction

from verifier.findings.contacts import contact_hazards
from verifier.findings.examples import INSERT, on_bar, turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.view import Hazard, ProgramView
from verifier.geometry import BODY_INTO_KEEP_OUT, INTO_KEEP_OUT
from verifier.machines import KeepOut

_JAWS = KeepOut("jaws", Fraction(-100), Fraction(-60), Fraction(0), Fraction(120), "jaws")
_SHEET = on_bar(INSERT, zones=(_JAWS,))
_HOLDER = tuple((Fraction(x), Fraction(z)) for x, z in ((8, 2), (30, 2), (30, -20), (8, -20)))
_HELD = on_bar(replace(INSERT, holder=_HOLDER), zones=(_JAWS,))


class KeepOutEntered(ProgramRule):
    """A tool, or the holder or shank behind it, enters a zone that the setup sheet keeps out of: jaws, tailstock, steady.

    Turning jaws throw what they hit, and a slide that runs into a chuck wrecks both. Rapids and feeds count alike.
    """

    id = "keep-out-entered"
    revision = 3
    weight = Weight.CRITICAL
    people = True
    title = "A tool enters a keep-out zone."
    watch = "Do not start. Run the sequence without a part at a safe X, and measure from the tool to the jaws."
    examples = (
        Example("rapid beside the jaws", turning("G00 X150.\nZ-70.\nX110.\nX150."), True, line=9, setup=_SHEET),
        Example("feed up to the jaws", turning("X58.\nG01 Z-61. F0.2\nX62."), True, line=8, setup=_SHEET),
        Example("short of the jaws", turning("X58.\nG01 Z-59. F0.2\nX62."), False, setup=_SHEET),
        Example("holder up to the jaws", turning("X58.\nG01 Z-45. F0.2\nX62."), True, line=8, setup=_HELD),
        Example("holder short of the jaws", turning("X58.\nG01 Z-39. F0.2\nX62."), False, setup=_HELD),
        Example("no setup sheet", turning("X58.\nG01 Z-61. F0.2\nX62."), False),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Every block with a move whose tool overlaps a zone."""
        body = BODY_INTO_KEEP_OUT, "The holder or shank of {tool} goes {amount} into {what}"
        yield from contact_hazards(program, INTO_KEEP_OUT, "{tool} goes {amount} into {what}", body)
