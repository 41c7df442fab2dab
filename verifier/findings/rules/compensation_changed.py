"""The rule `compensation-changed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.compare import Effect
from verifier.findings import shop
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.phrases import each
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn

_CUT = "G42 G01 X58. F0.2\nZ-30.\nG40 X62."


class CompensationChanged(ChangeRule):
    """The compensation of the tool nose is on another side, or off where it was on, or on where it was off.

    On the wrong side the nose runs into the part by twice its radius; switched off, every taper and arc is off by a part of it.
    """

    id = "compensation-changed"
    revision = 1
    weight = Weight.CRITICAL
    people = True
    mirror = "compensation-changed"
    title = "The nose compensation is changed."
    watch = "Check the side against the way the tool goes, and nose radius and direction at the control, before the first cut."
    examples = (
        Example("G42 became G41", turning(_CUT.replace("G42", "G41")), True, old=turning(_CUT), line=7),
        Example("G42 taken out", turning(_CUT.replace("G42 ", "")), True, old=turning(_CUT), line=7),
        Example("G40 said again", turning("G40\n" + _CUT), False, old=turning(_CUT)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Every stretch with another state of the compensation."""
        for share in change.shares(self.id):
            yield from each(share, self._drawn)

    def _drawn(self, effect: Effect) -> Drawn:
        before, after = (shop.state_word(value) for value in (effect.before, effect.after))
        return Drawn(f"Nose compensation changed from {before} to {after}", before=before, after=after)
