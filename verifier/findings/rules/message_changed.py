"""The rule `message-changed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.ownership import Share
from verifier.findings.phrases import counted, items_of_effects, joined
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn

_CUT = "G01 X58. F0.2\nX62."
_MESSAGE = "DPRNT[SIZE#100]\n"


class MessageChanged(ChangeRule):
    """What the program prints or shows is changed.

    Somebody, or some other computer, reads these lines: a counter, a measured size, a request to the operator.
    """

    id = "message-changed"
    revision = 1
    weight = Weight.MINOR
    mirror = "message-changed"
    title = "A message of the program is changed."
    watch = "Ask who reads the message, and what happens when it does not come."
    examples = (
        Example("put in", turning(_MESSAGE + _CUT), True, old=turning(_CUT), line=7),
        Example("the same", turning(_MESSAGE + _CUT), False, old=turning(_MESSAGE + _CUT.replace("0.2", "0.25"))),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Messages that came, went or say something else."""
        for share in change.shares(self.id):
            count = sum(1 for _ in items_of_effects(share.leads))
            first = share.leads[0]
            yield Drawn(
                f"{counted(count, 'message')} {_verb(share)}, first {first.before if first.after is None else first.after}",
                share.covers,
                before=None if first.before is None else str(first.before),
                after=None if first.after is None else str(first.after),
            )


def _verb(share: Share) -> str:
    names = {"added": "added", "removed": "removed", "event": "changed", "order": "at another time"}
    return joined(dict.fromkeys(names[effect.field] for effect in share.leads))
