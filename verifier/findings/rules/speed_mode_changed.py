"""The rule `speed-mode-changed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.compare import Effect
from verifier.findings import shop
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.phrases import each
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn, item_of

_CUT = "G01 X20. F0.2\nX62."


class SpeedModeChanged(ChangeRule):
    """The spindle runs at constant surface speed instead of a fixed speed, or the other way round.

    The same S word then means something else: 180 m/min at a small diameter is thousands of revolutions, 180 rev/min is none to cut at.
    A clamp holds only under constant surface speed.
    """

    id = "speed-mode-changed"
    revision = 1
    weight = Weight.CRITICAL
    people = True
    mirror = "speed-mode-changed"
    title = "The speed mode is changed (G96 or G97)."
    watch = "Read the S word next to the G96 or G97, and the clamp in front of it, before the spindle is started."
    examples = (
        Example("G96 to G97", turning(_CUT).replace("G96 S180", "G97 S900"), True, old=turning(_CUT), line=5),
        Example("G97 to G96", turning(_CUT), True, old=turning(_CUT).replace("G96 S180", "G97 S900"), line=5),
        Example("only the speed", turning(_CUT).replace("S180", "S200"), False, old=turning(_CUT)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Every speed mode that differs, with the speeds that come with it."""
        for share in change.shares(self.id):
            yield from each(share, lambda effect: self._drawn(change, effect))

    def _drawn(self, change: ChangeView, effect: Effect) -> Drawn:
        first = effect.first
        shown = []
        for item, units in ((first.old, change.old.units), (first.new, change.new.units)):
            state = (item or item_of(first)).state
            speed = f", {shop.speed(state.speed, state.speed_mode, units)}" if state.speed is not None else ""
            shown.append(f"{shop.state_word(state.speed_mode)}{speed}")
        before, after = shown
        return Drawn(f"Speed mode changed from {before} to {after}", before=before, after=after)
