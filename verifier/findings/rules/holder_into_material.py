"""The rule `holder-into-material`."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction

from verifier.findings.contacts import contact_hazards
from verifier.findings.examples import INSERT, on_bar, turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.view import Hazard, ProgramView
from verifier.geometry import BODY_INTO_MATERIAL

_HOLDER = tuple((Fraction(x), Fraction(z)) for x, z in ((8, 2), (30, 2), (30, -20), (8, -20)))
_SHEET = on_bar(replace(INSERT, holder=_HOLDER))


class HolderIntoMaterial(ProgramRule):
    """A holder or a shank runs into the piece, although the edge in it may pass.

    A cut that goes deeper than the edge reaches, a bar too thick for its bore, a holder that hangs over a shoulder: it rubs, tears the piece out
    of its chuck or bends the bar. Holder and shank are those of the setup sheet.
    """

    id = "holder-into-material"
    revision = 2
    weight = Weight.CRITICAL
    people = True
    title = "A holder or shank runs into material."
    watch = "Do not start. Look at the tool beside the piece at the deepest point, with the spindle stopped."
    examples = (
        Example("deeper than the edge", turning("X30.\nG01 Z-15. F0.2\nX62."), True, line=7, setup=_SHEET),
        Example("no deeper", turning("X50.\nG01 Z-15. F0.2\nX62."), False, setup=_SHEET),
        Example("no holder given", turning("X30.\nG01 Z-15. F0.2\nX62."), False, setup=on_bar(INSERT)),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Every block with a move whose holder or shank overlaps what is left."""
        yield from contact_hazards(
            program, BODY_INTO_MATERIAL, "The holder or shank of {tool} runs {amount} into {what}"
        )
