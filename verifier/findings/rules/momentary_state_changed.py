"""The rule `momentary-state-changed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.examples import HEAD, turning
from verifier.findings.model import Weight
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn

_CUT = "G01 Z-30. F0.2\nX62."
_REVERSED = "G00 X100. Z50.\nM04\nM05\nM09\nG97\nM30\n"
_USUAL = "G00 X100. Z50.\nM05\nM09\nG97\nM30\n"


class MomentaryStateChanged(ChangeRule):
    """The spindle or the coolant is switched, or turns under another speed clamp, for a moment in which nothing else happens, or no longer does.

    No move shows it, and yet the machine does it: a spindle reversed for a moment brakes hard, opens some chucks, and wears the drive; one
    started before its clamp is read runs up as far as the machine goes.
    """

    id = "momentary-state-changed"
    revision = 2
    weight = Weight.MAJOR
    people = True
    mirror = "momentary-state-changed"
    title = "The spindle or the coolant is switched for a moment."
    watch = "Ask what the word is for; listen to the spindle at this block."
    examples = (
        Example("M04 in front of M05", turning(_CUT, tail=_REVERSED), True, old=turning(_CUT, tail=_USUAL)),
        Example(
            "clamp read only after the spindle was started",
            turning(_CUT, head=HEAD.replace("G50 S2000\nG96 S180 M03\n", "G96 S180 M03\nG50 S2000\n")),
            True,
            old=turning(_CUT),
        ),
        Example(
            "M05 twice", turning(_CUT, tail=_USUAL.replace("M05", "M05\nM05")), False, old=turning(_CUT, tail=_USUAL)
        ),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Every momentary state that came, went or became another one."""
        for effect in change.effects("added", "removed", "event"):
            item = effect.first.new or effect.first.old
            if item is not None and item.kind == "event:momentary":
                told = {"added": "now", "removed": "no longer"}.get(effect.field, "now, instead of another state,")
                yield Drawn(f"For a moment {told}: {item.value}", (effect,))
