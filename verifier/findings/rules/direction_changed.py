"""The rule `direction-changed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.compare import Effect
from verifier.findings import shop
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.phrases import counted, each, end_of
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn, item_of

_CUT = "G01 X50. F0.2\nZ-20.\nG02 X60. Z-25. R5.\nG01 X62."


class DirectionChanged(ChangeRule):
    """A cut goes round the other way, or became an arc, a straight line or a thread.

    The end point is the same, so the mistake hides there; between the ends the tool leaves the shape by as much as the arc is deep.
    """

    id = "direction-changed"
    revision = 1
    weight = Weight.MAJOR
    mirror = "direction-changed"
    title = "A cut is made as another kind of line."
    watch = "Compare the fillet or the line with the drawing; run the block in single block clear of the part first."
    examples = (
        Example("G02 became G03", turning(_CUT.replace("G02", "G03")), True, old=turning(_CUT), line=9),
        Example(
            "arc became straight",
            turning(_CUT.replace("G02 X60. Z-25. R5.", "G01 X60. Z-25.")),
            True,
            old=turning(_CUT),
        ),
        Example("another radius", turning(_CUT.replace("R5.", "R6.")), False, old=turning(_CUT)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Cuts that kept their end and are of another kind."""
        for share in change.shares(self.id):
            yield from each(share, lambda effect: self._drawn(change, effect))

    def _drawn(self, change: ChangeView, effect: Effect) -> Drawn:
        before, after = shop.state_word(effect.before), shop.state_word(effect.after)
        end, count = end_of(item_of(effect.first), change.units), len(effect.differences)
        where = f"the cut to {end}" if count == 1 else f"{counted(count, 'cut')}, the first to {end},"
        verb = "is" if count == 1 else "are"
        return Drawn(f"Direction changed: {where} {verb} now {after}, {before} before", before=before, after=after)
