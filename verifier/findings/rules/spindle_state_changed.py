"""The rule `spindle-state-changed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.compare import Effect
from verifier.findings import shop
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.phrases import counted, each, items_of_effects
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn

_CUT = "G01 X58. F0.2\nX62."
_TURNING = ("forward", "reverse")
_WORDS = {
    "forward": "turns forward",
    "reverse": "turns in reverse",
    "stopped": "is stopped",
    "None": "has no sense established",
}
_BEFORE = {
    "forward": "turned forward",
    "reverse": "turned in reverse",
    "stopped": "was stopped",
    "None": "had no sense established",
}
_PAUSES = {
    "event:stop": "the stop (M00)",
    "event:optional-stop": "the optional stop (M01)",
    "event:tool": "the tool change",
    "event:dwell": "a dwell",
}


class SpindleStateChanged(ChangeRule):
    """The spindle turns where it stood still, or stands still where it turned.

    A tool fed into a part that stands still breaks, and a part that turns at a stop catches the hand that reaches in to measure.
    """

    id = "spindle-state-changed"
    revision = 1
    weight = Weight.CRITICAL
    people = True
    mirror = "spindle-state-changed"
    title = "The spindle turns or stands still where it did not before."
    watch = "Go through in single block: the spindle must turn before the tool touches, and stand before anybody reaches in."
    examples = (
        Example("M03 taken out", turning(_CUT).replace(" M03", ""), True, old=turning(_CUT), line=5),
        Example(
            "M05 behind the stop",
            turning(_CUT, tail="G00 X100. Z50.\nM09\nM01\nM05\nM30\n"),
            True,
            old=turning(_CUT, tail="G00 X100. Z50.\nM09\nM05\nM01\nM30\n"),
        ),
        Example("the other way", turning(_CUT).replace("M03", "M04"), False, old=turning(_CUT)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Every stretch or pause during which the spindle does something else, senses exchanged aside."""
        for share in change.shares(self.id):
            yield from each(share, self._drawn)

    def _drawn(self, effect: Effect) -> Drawn:
        items = list(items_of_effects((effect,)))
        moves = [item for item in items if item.is_move]
        cuts = sum(item.cuts for item in moves)
        before, after = (
            _BEFORE.get(str(effect.before), str(effect.before)),
            _WORDS.get(str(effect.after), str(effect.after)),
        )
        if moves:
            where = f"{counted(len(moves), 'move')}, {cuts} of them at feed" if cuts else counted(len(moves), "rapid")
            weight = Weight.CRITICAL if cuts else Weight.MAJOR
        else:
            where = _PAUSES.get(items[0].kind, "an event without a move") if items else "nothing"
            weight = Weight.CRITICAL if effect.after in _TURNING else Weight.MINOR
        return Drawn(
            f"The spindle {after} during {where}; it {before} before",
            before=shop.state_word(effect.before),
            after=shop.state_word(effect.after),
            weight=weight,
        )
