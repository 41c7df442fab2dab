"""The rule `feed-mode-changed`."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from verifier.compare import Effect, Item
from verifier.findings import shop
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.phrases import each
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn, ProgramView
from verifier.geometry import spindle_speed

_CUT = "G01 X20. F0.2\nX62."
_PER_MINUTE = turning("G98 G01 X20. F180.\nX62.")


class FeedModeChanged(ChangeRule):
    """Feeds count per minute instead of per revolution, or the other way round.

    The same F word is then another feed by a factor of the spindle speed: 0.2 mm/min cuts nothing, 180 mm/rev is a crash.
    """

    id = "feed-mode-changed"
    revision = 2
    weight = Weight.MAJOR
    mirror = "feed-mode-changed"
    title = "The feed mode is changed (per minute or per revolution)."
    watch = "Read the F word next to the feed mode, and turn the feed override to its lowest for the first cut."
    examples = (
        Example("G99 to G98", _PER_MINUTE, True, old=turning(_CUT), line=7),
        Example("G99 said again", turning("G99 " + _CUT), False, old=turning(_CUT)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Every feed mode that differs, with the feeds that come with it."""
        for share in change.shares(self.id):
            yield from each(share, lambda effect: self._drawn(change, effect))

    def _drawn(self, change: ChangeView, effect: Effect) -> Drawn:
        first = effect.first
        sides = ((change.old, first.old), (change.new, first.new))
        before, after = (_shown(view, item) for view, item in sides)
        rates = [_per_minute(view, item) for view, item in sides]
        words, weight = "", Weight.MAJOR
        if rates[0] and rates[1]:
            ratio = rates[1] / rates[0]
            weight = Weight.CRITICAL if ratio >= 2 else Weight.MAJOR
            words = f"; the tool then goes {_as_fast(Fraction(round(ratio * 100), 100) or Fraction(1, 1000))}"
            words = words if abs(ratio - 1) >= 0.005 else "; about as fast as before"
        return Drawn(f"Feed mode changed from {before} to {after}{words}", before=before, after=after, weight=weight)


def _as_fast(ratio: Fraction) -> str:
    """A ratio of speeds as people say it."""
    if ratio >= 2:
        return f"{shop.decimal(ratio, 1 if ratio < 10 else 0)} times as fast"
    if ratio <= Fraction(1, 2):
        return f"at 1/{shop.decimal(1 / ratio, 1 if ratio > Fraction(1, 10) else 0)} of the speed"
    return f"{shop.decimal(abs(ratio - 1) * 100, 1)} % {'faster' if ratio > 1 else 'slower'}"


def _shown(view: ProgramView, item: Item | None) -> str:
    if item is None:
        return shop.NOT_SET
    state = item.state
    feed = f", {shop.feed(state.feed, state.feed_mode, view.units)}" if state.feed is not None else ""
    return f"{shop.state_word(state.feed_mode)}{feed}"


def _per_minute(view: ProgramView, item: Item | None) -> float | None:
    """The speed of the tool in mm/min at the end of a move; None where it cannot be computed."""
    if item is None or not isinstance(item.state.feed, Fraction) or item.end.bx:
        return None
    if item.state.feed_mode == "per-minute":
        return float(item.state.feed)
    speed = spindle_speed(item.state, item.end.x, view.machine)
    return float(item.state.feed) * speed if speed else None
