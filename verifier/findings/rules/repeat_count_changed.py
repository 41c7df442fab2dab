"""The rule `repeat-count-changed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.claims_calls import counts_of
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.phrases import counted, cut_length, items_of_effects, joined
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn

_SUB = "O2000\nG01 U-2. F0.1\nG00 U2.\nM99\n"
_TAIL = "G00 X100. Z50.\nM09\nM05\nM30\n" + _SUB


def _call(words: str) -> str:
    return turning(words, tail=_TAIL)


class RepeatCountChanged(ChangeRule):
    """The same subprogram is run another number of times.

    An incremental subprogram goes on where its last run stopped: once more, and it cuts a groove, a pass or a part that nobody asked for, and
    the tool stands elsewhere when it returns.
    """

    id = "repeat-count-changed"
    revision = 1
    weight = Weight.MAJOR
    people = True
    mirror = "repeat-count-changed"
    title = "The number of runs of a subprogram is changed."
    watch = "Count the runs in single block, and see where the tool stands after the last one."
    examples = (
        Example("three times instead of two", _call("M98 P2000 L3"), True, old=_call("M98 P2000 L2"), line=7),
        Example("the count lost", _call("M98 P2000"), True, old=_call("M98 P2000 L2"), line=7),
        Example("the count in front of the number", _call("M98 P32000"), True, old=_call("M98 P22000"), line=7),
        Example("another program", _call("M98 P2001 L2"), False, old=_call("M98 P2000 L2")),
        Example("once, said or not", _call("M98 P2000 L1"), False, old=_call("M98 P2000")),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """One finding for each set of edits: the counts, and what is cut more or less."""
        for share in change.shares(self.id):
            found = [c for k in share.causes if (c := counts_of(change.facts, k)) is not None]
            parts = dict.fromkeys(
                f"{name} is run {_times(after)} instead of {_times(before)}" for name, before, after in found
            )
            moves = [item for item in items_of_effects(share.covers) if item.is_move]
            words = f"; {counted(len(moves), 'move')} differ, {cut_length(moves, change.units)}" if moves else ""
            _, before, after = found[0]
            yield Drawn(f"Repeats changed: {joined(parts)}{words}", share.covers, before=str(before), after=str(after))


def _times(count: int) -> str:
    return {1: "once", 2: "twice"}.get(count, f"{count} times")
