"""The rule `retract-clearance-changed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.clearances import drawn_clearance
from verifier.findings.examples import TAIL, turning
from verifier.findings.model import Weight
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn

_CUT = "G01 X58. F0.2\nZ-30.\nX62."


class RetractClearanceChanged(ChangeRule):
    """A rapid behind a cut ends nearer to the stock, or farther from it.

    What follows from there, another tool, a turret that turns, a move along the part, needs the room that was left before.
    """

    id = "retract-clearance-changed"
    revision = 2
    weight = Weight.MAJOR
    mirror = "retract-clearance-changed"
    title = "The retract ends at another distance."
    watch = "Watch the distance of tool, holder and turret on the way out and when the turret turns."
    examples = (
        Example("X100 to X70", turning(_CUT, tail=TAIL.replace("X100.", "X70.")), True, old=turning(_CUT), line=10),
        Example("the cut only", turning(_CUT.replace("Z-30.", "Z-31.")), False, old=turning(_CUT)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """One finding for each set of edits: the distance before and after, and what it is to."""
        for share in change.shares(self.id):
            yield drawn_clearance(change, share, "Retract")
