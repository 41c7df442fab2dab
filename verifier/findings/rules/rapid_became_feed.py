"""The rule `rapid-became-feed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.compare import Effect
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.phrases import each, end_of
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn, item_of

_FED = "G01 X58. F0.2\nZ-30.\nX62."
_PARTLY = "G00 X60.5\nG01 X58. F0.2\nZ-30.\nX62."


class RapidBecameFeed(ChangeRule):
    """A stretch that was travelled at rapid is travelled at feed.

    It is slower, and where the feed is the one left from the cut before it may be far too slow or too fast. If nobody meant it, a G00 was
    lost, and what follows it is fed as well.
    """

    id = "rapid-became-feed"
    revision = 1
    weight = Weight.MINOR
    mirror = "feed-became-rapid"
    title = "A rapid became a feed move."
    watch = "See that the feed in force there suits the stretch, and that the moves behind it are still at rapid where they should be."
    examples = (
        Example("G00 became G01", turning(_FED), True, old=turning(_FED.replace("G01", "G00")), line=7),
        Example("an air cut at feed again", turning(_FED), True, old=turning(_PARTLY), line=7),
        Example("G00 said twice", turning("G00 X60.5\nG00 Z1."), False, old=turning("G00 X60.5\nZ1.")),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Moves that kept their end and got a feed, and rapids taken out along a line that is fed now."""
        for share in change.shares(self.id):
            yield from each(share, lambda effect: self._drawn(change, effect))

    def _drawn(self, change: ChangeView, effect: Effect) -> Drawn:
        item, count = item_of(effect.first), len(effect.differences)
        end = end_of(item, change.units)
        if effect.field == "removed":
            return Drawn(
                f"A stretch that was a rapid, to {end}, is now part of a feed move", before="rapid", after="feed"
            )
        if count == 1:
            return Drawn(f"Rapid became feed: the move to {end} is now at feed", before="rapid", after="feed")
        title = f"Rapid became feed: {count} moves, the first to {end}, are now at feed"
        return Drawn(title, before="rapid", after="feed")
