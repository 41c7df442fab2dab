"""The rule `speed-clamp-added`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.compare import Effect
from verifier.findings import shop
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.phrases import each
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn

_CUT = "G01 X20. F0.2\nX62."
_WITHOUT = "O1000 (SPACER)\nN1 G00 G21 G40 G54 G97 G99\nT0101\nG96 S180 M03\nG00 X62. Z2. M08\n"


class SpeedClampAdded(ChangeRule):
    """A speed clamp is in force where there was none.

    It makes the spindle slower near the centre line: safer, but the cut takes longer and the surface there is cut at a lower speed.
    """

    id = "speed-clamp-added"
    revision = 2
    weight = Weight.MINOR
    people = True
    mirror = "speed-clamp-removed"
    hazard = "speed-clamp-missing"
    title = "A speed clamp is added."
    watch = "Listen for the speed at small diameters; the surface there may change."
    examples = (
        Example("clamp line added", turning(_CUT), True, old=turning(_CUT, head=_WITHOUT), line=4),
        Example("clamp was there", turning(_CUT), False, old=turning(_CUT.replace("0.2", "0.25"))),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Every clamp that is in force and was not."""
        for share in change.shares(self.id):
            yield from each(share, self._drawn)

    def _drawn(self, effect: Effect) -> Drawn:
        after = shop.clamp(effect.after)
        return Drawn(f"Speed clamp added: {after}, none before", after=after)
