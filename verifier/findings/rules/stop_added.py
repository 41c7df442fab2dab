"""The rule `stop-added`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.examples import TAIL, turning
from verifier.findings.model import Weight
from verifier.findings.phrases import items_of_effects, joined, labels
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.stops import stop_words
from verifier.findings.view import ChangeView, Drawn

_CUT = "G01 X58. F0.2\nX62."
_STOPPED = TAIL.replace("G97\n", "G97\nM00\n")


class StopAdded(ChangeRule):
    """A stop or an optional stop was put in.

    The machine stands there until somebody presses start. In the middle of a cut it leaves a mark, and whoever comes must know what to do.
    """

    id = "stop-added"
    revision = 1
    weight = Weight.MAJOR
    mirror = "stop-removed"
    title = "A stop is added."
    watch = "Tell the operator what the stop is for, and look that tool and spindle are safe to approach there."
    examples = (
        Example("M00 put in", turning(_CUT, tail=_STOPPED), True, old=turning(_CUT), line=13),
        Example(
            "M00 was there", turning(_CUT, tail=_STOPPED), False, old=turning(_CUT, tail=_STOPPED.replace("M00", "M0"))
        ),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Stops that were not made before; optional ones are only worth knowing."""
        for share in change.shares(self.id):
            where = labels(change, share.leads)
            words = joined(stop_words(share.leads))
            certain = any(item.kind == "event:stop" for item in items_of_effects(share.leads))
            yield Drawn(
                f"Stop added: {words}" + (f", in {where}" if where else ""),
                share.covers,
                after=words,
                weight=Weight.MAJOR if certain else Weight.MINOR,
            )
