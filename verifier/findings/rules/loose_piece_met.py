"""The rule `loose-piece-met`."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from verifier.findings.contacts import contact_hazards
from verifier.findings.examples import INSERT, on_bar, turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.view import Hazard, ProgramView
from verifier.geometry import LOOSE_PIECE_MET
from verifier.machines import Tool

_BLADE = Tool(2, "parting", orientation=3, blade_width=Fraction(3), blade_depth=Fraction(40))
_SHEET = on_bar(INSERT, _BLADE)
_PART = "G00 X100. Z50.\nT0202\nG00 X62. Z-50.\nG01 X-0.2 F0.05\nG00 X62.\n"


class LoosePieceMet(ProgramRule):
    """A tool goes where a piece lay that was cut free before.

    Nothing drives or holds that piece any more: it is not cut but thrown, or jams between tool and bar.
    """

    id = "loose-piece-met"
    revision = 2
    weight = Weight.CRITICAL
    people = True
    title = "A tool meets a piece that was cut free."
    watch = "Do not start. Part off last, or stop the program and take the piece out before this tool."
    examples = (
        Example(
            "turned after it was parted off",
            turning(_PART + "X100. Z50.\nT0101\nG00 X62. Z2.\nX58.\nG01 Z-20. F0.2\nX62."),
            True,
            line=16,
            setup=_SHEET,
        ),
        Example("turned before", turning("X58.\nG01 Z-20. F0.2\nX62.\n" + _PART), False, setup=_SHEET),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Every block with a move whose tool overlaps a piece that was cut free."""
        yield from contact_hazards(program, LOOSE_PIECE_MET, "{tool} goes {amount} into a piece that was cut free")
