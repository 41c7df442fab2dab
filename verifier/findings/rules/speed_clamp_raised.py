"""The rule `speed-clamp-raised`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings import shop
from verifier.findings.examples import turning
from verifier.findings.model import Weight
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
        """Every clamp that is higher than it was."""
        for effect in change.effects("clamp"):
            pair = values(effect)
            if pair and pair[1] > pair[0]:
                left = [e for e in change.effects("clamp", left=True) if e.causes == effect.causes]
                yield Drawn(
                    f"Speed clamp raised from {shop.clamp(pair[0])} to {shop.clamp(pair[1])}; the force that opens the jaws grows by "
                    f"{shop.decimal(((pair[1] / pair[0]) ** 2 - 1) * 100, 0)} %",
                    (effect, *left),
                    before=shop.clamp(pair[0]),
                    after=shop.clamp(pair[1]),
                )
