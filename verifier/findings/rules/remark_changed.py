"""The rule `remark-changed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.compare import Effect
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.phrases import each, end_of
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn, item_of

_CUT = "G01 X58. F0.2 E1\nZ-30.\nX62."


class RemarkChanged(ChangeRule):
    """Words on a move that are not executed here are changed.

    What such a word does, a chamfer, a corner, an option of the control, is not computed. The move itself is the same; what the word makes of
    it may not be.
    """

    id = "remark-changed"
    revision = 2
    weight = Weight.MAJOR
    mirror = "remark-changed"
    title = "Words that are not executed here are changed on a move."
    watch = "Ask what the word does on this control, and look at the move in single block."
    examples = (
        Example("E1 became E2", turning(_CUT.replace("E1", "E2")), True, old=turning(_CUT), line=7),
        Example("E1 kept", turning(_CUT), False, old=turning(_CUT.replace("0.2", "0.25"))),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Every move whose words beside the motion differ."""
        for share in change.shares(self.id):
            yield from each(share, lambda effect: self._drawn(change, effect))

    def _drawn(self, change: ChangeView, effect: Effect) -> Drawn:
        if change.facts.bent(effect):
            way = "each axis at its own rate, no straight line" if effect.after else "along one axis only"
            title = f"The rapid to {end_of(item_of(effect.first), change.units)} goes another way: {way}"
            return Drawn(title, weight=Weight.MAJOR if effect.after else Weight.MINOR)
        before, after = str(effect.before or "") or None, str(effect.after or "") or None
        return Drawn(
            f"Words on a move changed from {before or 'none'} to {after or 'none'}: what they do cannot be computed",
            before=before,
            after=after,
        )
