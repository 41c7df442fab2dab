"""The rule `contour-kind-changed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn, ProgramView

_ROUGH = "G71 U2. R0.5\nG71 P100 Q110 U0.5 W0.1 F0.3\nN100 {}\nG01 Z-20. F0.1\nN110 X62."
_CYCLES = ("G71", "G72")
_AXES = {"X": "X", "U": "X", "Z": "Z", "W": "Z"}


class ContourKindChanged(ChangeRule):
    """The first block of a contour gained or lost its second axis.

    That block tells many controls which kind of roughing is meant: one axis, a contour that only rises; both axes, a contour that may have pockets.
    The levels, the infeed and the pass along the contour then differ, or the control stops with an alarm.
    """

    id = "contour-kind-changed"
    revision = 1
    weight = Weight.MAJOR
    mirror = "contour-kind-changed"
    title = "The first block of a contour names other axes."
    watch = "Look up in the control's manual what a second axis in the first contour block asks for; run the cycle in the air."
    examples = (
        Example("Z put in", turning(_ROUGH.format("G00 X30. Z2.")), True, old=turning(_ROUGH.format("G00 X30.")), line=9),
        Example("W0 taken out", turning(_ROUGH.format("G00 X30.")), True, old=turning(_ROUGH.format("G00 X30. W0.")), line=9),
        Example("in increments", turning(_ROUGH.format("G00 U-32.")), False, old=turning(_ROUGH.format("G00 X30."))),
    )  # fmt: skip

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Every roughing cycle on both sides whose first contour block names one axis on one of them and two on the other."""
        told: set[int] = set()
        for pair in change.facts.cycle_pairs():
            if pair.new.code not in _CYCLES or not (pair.old.contour and pair.new.contour):
                continue
            first = pair.new.contour[0]
            before, after = _axes(change.old, pair.old.contour[0]), _axes(change.new, first)
            if not before or not after or before == after or len(before) == len(after) or first in told:
                continue
            told.add(first)
            old_edit = int(change.comparison.edits.of_old[pair.old.contour[0]])
            edits = {int(change.comparison.edits.of_new[first]), old_edit} - {-1}
            lost = len(after) < len(before)
            (axis,) = (before ^ after) if len(before ^ after) == 1 else ("both",)
            word = "lost" if lost else "gained"
            title = f"The first contour block of {pair.new.name} {word} its {axis} word: contours {_kind(after)}, {_kind(before)} before"
            yield Drawn(
                title,
                edits=tuple(sorted(edits)),
                before=" ".join(sorted(before)),
                after=" ".join(sorted(after)),
                effects=(change.new.place(pair.new.block),),
                at=(change.new.place(first),),
            )


def _axes(view: ProgramView, block: int) -> frozenset[str]:
    return frozenset(_AXES[word.letter] for word in view.block(block).words if word.letter in _AXES)


def _kind(axes: frozenset[str]) -> str:
    return "with pockets are meant" if len(axes) == 2 else "that only rise are meant"
