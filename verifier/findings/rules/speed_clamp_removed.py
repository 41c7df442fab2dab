"""The rule `speed-clamp-removed`."""

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


class SpeedClampRemoved(ChangeRule):
    """The speed clamp that was in force under constant surface speed is gone.

    Toward the centre line constant surface speed asks for ever more revolutions. Without a clamp the spindle goes to the machine's
    own maximum, whatever the chuck holds: grip falls with the square of the speed, and the part can leave the chuck.
    """

    id = "speed-clamp-removed"
    revision = 2
    weight = Weight.CRITICAL
    people = True
    mirror = "speed-clamp-added"
    hazard = "speed-clamp-missing"
    title = "The speed clamp is removed."
    watch = "Do not start. Put the clamp back in front of the surface speed, or have the work-holding speed limit confirmed."
    examples = (
        Example("clamp line deleted", turning(_CUT, head=_WITHOUT), True, old=turning(_CUT), line=4),
        Example("clamp kept", turning(_CUT.replace("0.2", "0.25")), False, old=turning(_CUT)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Every clamp that was in force and is not."""
        greatest = shop.clamp(change.new.machine.spindle.max_rpm)
        for share in change.shares(self.id):
            yield from each(share, lambda effect: self._drawn(effect, greatest))

    def _drawn(self, effect: Effect, greatest: str) -> Drawn:
        before = shop.clamp(effect.before)
        return Drawn(
            f"Speed clamp removed: {before} before, none now; under constant surface speed the spindle may go to {greatest}",
            before=before,
        )
