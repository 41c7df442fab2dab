"""The rule `units-changed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.phrases import joined
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.touched import touched
from verifier.findings.view import ChangeView, Drawn
from verifier.machines import code_name

_CUT = "G01 X58. F0.2\nZ-30.\nX62."
_UNITS = ("G20", "G21")


class UnitsChanged(ChangeRule):
    """A unit word (inch or millimetre) was put in, taken out or exchanged.

    Read in the other unit every position and feed is 25.4 times too big or too small. Even where nothing scales today, the program now rests on
    the unit that the machine happens to be in.
    """

    id = "units-changed"
    revision = 4
    weight = Weight.CRITICAL
    people = True
    mirror = "units-changed"
    title = "A unit word (inch or millimetre) is changed."
    watch = "Look at the unit shown at the control before the start, and at the distance to go at the first approach."
    examples = (
        Example("G21 became G20", turning(_CUT).replace("G21", "G20"), True, old=turning(_CUT), line=2),
        Example("G21 taken out", turning(_CUT).replace("G21 ", ""), True, old=turning(_CUT), line=2),
        Example("the safety block twice", turning("G21 G40\n" + _CUT), False, old=turning(_CUT)),
        Example("G21 kept", turning(_CUT), False, old=turning(_CUT.replace("0.2", "0.25"))),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Where lengths scale, and every edit that touches a unit word and scales nothing."""
        told: set[int] = set()
        for share in change.shares(self.id):
            told.update(share.causes)
            words = joined(dict.fromkeys(self._words(change, k) for k in share.causes if self._touches(change, k)))
            yield Drawn(f"Units changed: {words}; {_scaled(change)}", share.covers)
        left = [e for e in change.edits if self._touches(change, e.index) and e.index not in told]
        # A repetition of the unit that is in force and established earlier in the same sequence is no touch.
        touches = {touch.edit for touch in touched(change) if touch.kind == "units"} if left else set()
        for edit in left:
            if edit.index in touches:
                felt = any(edit.index in effect.causes for effect in change.comparison.effects)
                scaled = "what it scales is told beside this" if felt else "nothing is scaled by it"
                yield Drawn(
                    f"Unit word changed, {scaled}: {self._words(change, edit.index)}",
                    edits=(edit.index,),
                    weight=Weight.MINOR,
                )

    def _touches(self, change: ChangeView, index: int) -> bool:
        return index >= 0 and change.facts.words[index].touches(*_UNITS)

    def _words(self, change: ChangeView, index: int) -> str:
        facts = change.facts.words[index]
        taken, put = (
            [code_name(code, view.machine.code_set) for code in _UNITS if code in codes]
            for codes, view in ((facts.taken, change.old), (facts.put, change.new))
        )
        if taken and put:
            return f"{taken[0]} became {put[0]}"
        return f"{put[0]} added" if put else f"{taken[0]} removed"


def _scaled(change: ChangeView) -> str:
    """What a number means now; where no word says the unit, it is the one that the machine starts in."""
    before, after = change.old.trace.end_units, change.new.trace.end_units
    if before == after or not before or not after:
        return "lengths and feeds are scaled by 25.4 in a part of the program"
    larger = after == "inch"
    ratio = "25.4 times" if larger else "1/25.4 of"
    scaled = f"every length and feed is {ratio} what it was (1. was 1 {'mm' if larger else 'in'}, is 1 {'in' if larger else 'mm'})"
    if any(state.speed_mode == "surface" for state in change.new.trace.states):
        scaled += f", every surface speed {'0.3' if larger else '3.28'} times (it counts in {'ft' if larger else 'm'}/min now)"
    return scaled
