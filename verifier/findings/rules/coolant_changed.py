"""The rule `coolant-changed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.compare import Effect
from verifier.findings import shop
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.phrases import counted, each, items_of_effects
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn

_CUT = "G01 X58. F0.2\nZ-30.\nX62."


class CoolantChanged(ChangeRule):
    """Coolant runs where it did not, or does not where it did.

    A cut without coolant can burn the edge, and with some materials the swarf; swarf that is not washed away wraps itself round tool and part.
    """

    id = "coolant-changed"
    revision = 1
    weight = Weight.MAJOR
    mirror = "coolant-changed"
    title = "The coolant is changed."
    watch = "See that coolant runs before the first cut of the sequence, and stops before anybody opens the door."
    examples = (
        Example("M08 taken out", turning(_CUT).replace(" M08", ""), True, old=turning(_CUT), line=6),
        Example("M8 for M08", turning(_CUT).replace("M08", "M8"), False, old=turning(_CUT)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Every stretch with another state of the coolant."""
        for share in change.shares(self.id):
            yield from each(share, self._drawn)

    def _drawn(self, effect: Effect) -> Drawn:
        before, after = (shop.state_word(value) for value in (effect.before, effect.after))
        cuts = sum(item.cuts for item in items_of_effects((effect,)))
        where = f" during {counted(cuts, 'cut')}" if cuts else ", but only on moves that do not cut"
        return Drawn(
            f"Coolant changed from {before} to {after}{where}",
            before=before,
            after=after,
            weight=Weight.MAJOR if cuts else Weight.MINOR,
        )
