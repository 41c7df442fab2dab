"""The rule `rapid-into-material`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.contacts import contact_hazards
from verifier.findings.examples import INSERT, on_bar, turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.view import Hazard, ProgramView
from verifier.geometry import RAPID_INTO_MATERIAL

_SHEET = on_bar(INSERT)


class RapidIntoMaterial(ProgramRule):
    """A rapid drives the edge of its tool into material that is still there.

    At rapid the feed for each revolution is far beyond what an edge stands: it breaks, the piece may be torn from its chuck, or the slide loses
    its place. What counts is what the cuts before it have left, computed from the stock and the tools of the setup sheet.
    """

    id = "rapid-into-material"
    revision = 2
    weight = Weight.CRITICAL
    people = True
    title = "A rapid into material."
    watch = "Do not start. Single block at 5 % rapid up to this block, and look how far the tool is from the piece."
    examples = (
        Example("below the bar's diameter", turning("G00 X50.\nG00 Z-20."), True, line=8, setup=_SHEET),
        Example("where a cut made room", turning("X50.\nG01 Z-30. F0.2\nX62.\nG00 Z-20.\nX51."), False, setup=_SHEET),
        Example("before that cut", turning("Z-20.\nX51.\nX62.\nZ2.\nX50.\nG01 Z-30. F0.2\nX62."), True, line=8, setup=_SHEET),
        Example("no setup sheet", turning("G00 X50.\nG00 Z-20."), False),
    )  # fmt: skip

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Every block with a rapid whose tool overlaps what is left."""
        yield from contact_hazards(program, RAPID_INTO_MATERIAL, "A rapid takes {tool} {amount} into material")
