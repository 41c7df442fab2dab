"""The rule `approach-clearance-changed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.clearances import drawn_clearance
from verifier.findings.examples import HEAD, turning
from verifier.findings.model import Weight
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn

_CUT = "G01 Z-30. F0.2\nX62."


class ApproachClearanceChanged(ChangeRule):
    """A rapid ends nearer to the stock, or farther from it, before a cut.

    Nearer saves a moment and takes away what protects from a piece that is longer, or thicker, than planned: the tool then meets it at rapid.
    """

    id = "approach-clearance-changed"
    revision = 2
    weight = Weight.MAJOR
    mirror = "approach-clearance-changed"
    title = "The approach ends at another distance."
    watch = "Single block and low rapid override up to this block; check the distance to the stock with the longest piece of the batch."
    examples = (
        Example("Z2 to Z0.5", turning(_CUT, head=HEAD.replace("Z2.", "Z0.5")), True, old=turning(_CUT), line=6),
        Example("the cut only", turning(_CUT.replace("Z-30.", "Z-31.")), False, old=turning(_CUT)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """One finding for each set of edits: the distance before and after, and what it is to."""
        for share in change.shares(self.id):
            yield drawn_clearance(change, share, "Approach")
