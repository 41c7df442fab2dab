"""The rule `speed-clamp-raised`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.compare import Effect
from verifier.findings import shop
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.phrases import each
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn, values

_CUT = "G01 X20. F0.2\nX62."


class SpeedClampRaised(ChangeRule):
    """The speed clamp allows more revolutions than before.

    Grip at speed falls with the square of the speed: a clamp from 1200 to 1500 rev/min can take most of what was left of it.
    """

    id = "speed-clamp-raised"
    revision = 1
    weight = Weight.CRITICAL
    people = True
    mirror = "speed-clamp-lowered"
    title = "The speed clamp is raised."
    watch = "Check the new clamp against the speed marked on the chuck and on the setup sheet before the first start."
    examples = (
        Example("2000 to 2500", turning(_CUT).replace("S2000", "S2500"), True, old=turning(_CUT), line=4),
        Example("2000 to 1500", turning(_CUT).replace("S2000", "S1500"), False, old=turning(_CUT)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Every clamp that is higher than it was, or of which that cannot be told."""
        for share in change.shares(self.id):
            yield from each(share, self._drawn)

    def _drawn(self, effect: Effect) -> Drawn:
        pair = values(effect)
        before, after = shop.clamp(effect.before), shop.clamp(effect.after)
        if pair is None or not pair[0]:
            return Drawn(
                f"Speed clamp changed from {before} to {after}: whether it is higher cannot be told",
                before=before,
                after=after,
            )
        growth = shop.decimal(((pair[1] / pair[0]) ** 2 - 1) * 100, 0)
        return Drawn(
            f"Speed clamp raised from {before} to {after}; the force that opens the jaws grows by {growth} %",
            before=before,
            after=after,
        )
