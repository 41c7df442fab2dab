"""The rule `feed-changed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.compare import Effect
from verifier.findings import shop
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.phrases import each
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn, item_of, values

_CUT = "G01 Z-30. F0.2\nX62."


class FeedChanged(ChangeRule):
    """A cut runs at another feed.

    Feed sets the load on the tool, the surface, and whether swarf breaks. A changed feed word governs every cut until the next one.
    """

    id = "feed-changed"
    revision = 1
    weight = Weight.MAJOR
    mirror = "feed-changed"
    title = "The feed of cutting moves is changed."
    watch = "Run the sequence in single block at low override; watch load, swarf and sound at the first cut."
    examples = (
        Example("doubled", turning(_CUT.replace("0.2", "0.4")), True, old=turning(_CUT), line=7),
        Example("said in other words", turning(_CUT.replace("F0.2", "F.200")), False, old=turning(_CUT)),
        Example(
            "on a rapid only", turning("G00 Z1. F0.3\nG01 Z-30. F0.2"), False, old=turning("G00 Z1.\nG01 Z-30. F0.2")
        ),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Every feed that differs while its mode is the same (threads are the lead's own rule)."""
        for share in change.shares(self.id):
            yield from each(share, lambda effect: self._drawn(change, effect))

    def _drawn(self, change: ChangeView, effect: Effect) -> Drawn:
        pair = values(effect)
        mode = item_of(effect.first).state.feed_mode
        before, after = (shop.feed(value, mode, change.units) for value in (effect.before, effect.after))
        words = f" ({shop.ratio_words(*pair)})" if pair else ""
        weight = Weight.MAJOR if pair is None else Weight(change.policy.feed_weight(*pair) or "minor")
        return Drawn(f"Feed changed from {before} to {after}{words}", before=before, after=after, weight=weight)
