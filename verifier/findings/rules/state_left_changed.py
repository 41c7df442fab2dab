"""The rule `state-left-changed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.compare import Effect
from verifier.findings import shop
from verifier.findings.examples import TAIL, turning
from verifier.findings.model import Weight
from verifier.findings.phrases import joined
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn
from verifier.machines import code_name

_CUT = "G01 X58. F0.2\nX62."


class StateLeftChanged(ChangeRule):
    """The program leaves another modal state behind at its end.

    The next program, or the next part of a program that repeats, starts with what is left: a feed mode, a clamp, an offset.
    """

    id = "state-left-changed"
    revision = 1
    weight = Weight.MINOR
    mirror = "state-left-changed"
    title = "The state left at the end is changed."
    watch = "See that the next program sets for itself what it needs."
    examples = (
        Example(
            "a mode set at the end",
            turning(_CUT, tail=TAIL.replace("M30", "G98\nM30")),
            True,
            old=turning(_CUT),
            line=13,
        ),
        Example("nothing left", turning(_CUT), False, old=turning(_CUT.replace("0.2", "0.25"))),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """What differs at the end and follows from nothing told elsewhere."""
        for share in change.shares(self.id):
            parts = joined(_words(change, effect) for effect in share.leads)
            yield Drawn(f"State left at the end: {parts}", share.covers)


def _words(change: ChangeView, effect: Effect) -> str:
    values = []
    for value, view in ((effect.before, change.old), (effect.after, change.new)):
        if effect.field == "motion" and isinstance(value, str):
            value = code_name(value, view.machine.code_set)
        mode = view.trace.end.feed_mode if effect.field == "feed" else view.trace.end.speed_mode
        shown = {
            "feed": lambda v: shop.feed(v, mode, view.units),  # noqa: B023 - called at once
            "speed": lambda v: shop.speed(v, mode, view.units),  # noqa: B023 - called at once
            "clamp": shop.clamp,
        }.get(effect.field, shop.state_word)
        values.append(shown(value))
    return f"{effect.field.replace('_', ' ')} {values[1]}, {values[0]} before"
