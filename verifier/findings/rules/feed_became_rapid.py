"""The rule `feed-became-rapid`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.compare import Effect
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.phrases import each, end_of
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn, item_of

_CUT = "G01 X58. F0.2\nZ-30.\nX62."


class FeedBecameRapid(ChangeRule):
    """A stretch that was travelled at feed is travelled at rapid.

    Where the stretch is clear of the stock that only saves time. Where it is not, the tool goes into the material at rapid: a broken
    tool, a moved part, a wrecked turret.
    """

    id = "feed-became-rapid"
    revision = 1
    weight = Weight.CRITICAL
    people = True
    mirror = "rapid-became-feed"
    title = "A feed move became a rapid."
    watch = "Single block and rapid override at its lowest up to this block; check the distance to the stock before letting it go on."
    examples = (
        Example("G01 became G00", turning(_CUT.replace("G01", "G00")), True, old=turning(_CUT), line=7),
        Example(
            "an air cut at rapid", turning("G00 X60.5\nG01 X58. F0.2\nZ-30.\nX62."), True, old=turning(_CUT), line=7
        ),
        Example("G01 said twice", turning(_CUT.replace("Z-30.", "G01 Z-30.")), False, old=turning(_CUT)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Moves that kept their end and lost their feed, and rapids put in along a line that was fed."""
        for share in change.shares(self.id):
            yield from each(share, lambda effect: self._drawn(change, effect))

    def _drawn(self, change: ChangeView, effect: Effect) -> Drawn:
        item, count = item_of(effect.first), len(effect.differences)
        end = end_of(item, change.units)
        if effect.field == "added":
            return Drawn(f"A part of a feed move is now a rapid, to {end}", before="feed", after="rapid")
        if count == 1:
            return Drawn(f"Feed became rapid: the move to {end} is now at rapid", before="feed", after="rapid")
        title = f"Feed became rapid: {count} moves, the first to {end}, are now at rapid"
        return Drawn(title, before="feed", after="rapid")
