"""The rule `stop-removed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.examples import TAIL, turning
from verifier.findings.model import Weight
from verifier.findings.phrases import joined, labels
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.stops import stop_words
from verifier.findings.view import ChangeView, Drawn

_CUT = "G01 X58. F0.2\nX62."
_STOPPED = TAIL.replace("G97\n", "G97\nM00\n")


class StopRemoved(ChangeRule):
    """A stop or an optional stop was taken out.

    Somebody looked, measured, cleared swarf or turned the part there. The machine now goes on, while the operator still counts on the stop.
    """

    id = "stop-removed"
    revision = 1
    weight = Weight.MAJOR
    people = True
    mirror = "stop-added"
    title = "A stop is removed."
    watch = "Tell the operator that the machine goes on here; ask what the stop was for."
    examples = (
        Example("M00 taken out", turning(_CUT), True, old=turning(_CUT, tail=_STOPPED), line=13),
        Example("M00 kept", turning(_CUT, tail=_STOPPED), False, old=turning(_CUT, tail=_STOPPED.replace("M00", "M0"))),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Stops that are not made any more."""
        for share in change.shares(self.id):
            where = labels(change, share.leads)
            words = joined(stop_words(share.leads))
            yield Drawn(f"Stop removed: {words}" + (f", in {where}" if where else ""), share.covers, before=words)
