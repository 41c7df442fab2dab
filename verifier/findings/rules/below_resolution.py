"""The rule `below-resolution`."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from verifier.control import TICKS_PER_INCH, TICKS_PER_MM
from verifier.findings import shop
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.phrases import counted
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn

_CUT = "G01 X58. F0.2\nZ-30.\nX62."


class BelowResolution(ChangeRule):
    """Positions differ by less than the machine resolves.

    The machine goes to the same place. Many such steps counted from one another can still add up, and the number was changed for some reason.
    """

    id = "below-resolution"
    revision = 1
    weight = Weight.MINOR
    mirror = "below-resolution"
    title = "Positions differ by less than the machine resolves."
    watch = "Nothing at the machine; ask why the number was changed."
    examples = (
        Example("0.0004 mm", turning(_CUT.replace("Z-30.", "Z-30.0004")), True, old=turning(_CUT), line=8),
        Example("0.01 mm", turning(_CUT.replace("Z-30.", "Z-30.01")), False, old=turning(_CUT)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """One finding for each set of edits, with the greatest of the differences."""
        for share in change.shares(self.id):
            steps = [
                abs(d.after[1] - d.before[1])
                for e in share.leads
                for d in e.differences
                if isinstance(d.before, tuple) and isinstance(d.after, tuple)
            ]
            inch = change.units == "inch"
            size = Fraction(max(steps, default=0), TICKS_PER_INCH if inch else TICKS_PER_MM)
            words = f"{shop.decimal(size, 7)} {'in' if inch else 'mm'}"
            count = counted(len(steps), "position")
            yield Drawn(
                f"{count} moved by at most {words} along the slide, less than the machine resolves", share.covers
            )
