"""The rule `speed-clamp-lowered`."""

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


class SpeedClampLowered(ChangeRule):
    """The speed clamp allows fewer revolutions than before.

    That is the safe way round, but small diameters are cut at a lower surface speed: the cycle gets longer and the surface may change.
    """

    id = "speed-clamp-lowered"
    revision = 1
    weight = Weight.MINOR
    people = True
    mirror = "speed-clamp-raised"
    title = "The speed clamp is lowered."
    watch = "Look at the surface near the centre line, and at the time of the cycle."
    examples = (
        Example("2000 to 1500", turning(_CUT).replace("S2000", "S1500"), True, old=turning(_CUT), line=4),
        Example("2000 to 2500", turning(_CUT).replace("S2000", "S2500"), False, old=turning(_CUT)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Every clamp that is lower than it was."""
        for share in change.shares(self.id):
            yield from each(share, self._drawn)

    def _drawn(self, effect: Effect) -> Drawn:
        pair = values(effect)
        before, after = shop.clamp(effect.before), shop.clamp(effect.after)
        words = f" ({shop.ratio_words(*pair)})" if pair else ""
        return Drawn(f"Speed clamp lowered from {before} to {after}{words}", before=before, after=after)
