"""The rule `program-end-changed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.examples import TAIL, turning
from verifier.findings.model import Weight
from verifier.findings.ownership import Share
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn

_CUT = "G01 X58. F0.2\nX62."
_WORDS = {"M99": "M99, which starts the program again", "the text ends": "nothing: the text ends without M30"}


class ProgramEndChanged(ChangeRule):
    """The program ends in another way.

    M30 stops and rewinds, M02 only stops, M99 starts again at once: with no bar behind the part, or with the door about to be opened.
    """

    id = "program-end-changed"
    revision = 1
    weight = Weight.MAJOR
    people = True
    mirror = "program-end-changed"
    title = "The end of the program is changed."
    watch = "Stay at the stop button at the end of the first part."
    examples = (
        Example("M30 became M99", turning(_CUT, tail=TAIL.replace("M30", "M99")), True, old=turning(_CUT), line=13),
        Example("M30 kept", turning(_CUT), False, old=turning(_CUT.replace("0.2", "0.25"))),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """The end before and after."""
        for share in change.shares(self.id):
            before, after = _ends(share, "before"), _ends(share, "after")
            title = f"The program ends with {after or 'something else'}, with {before or 'something else'} before"
            if {effect.field for effect in share.leads} == {"order"}:
                title = "The program ends at another point of the work"
            yield Drawn(title, share.covers, before=before, after=after)


def _ends(share: Share, side: str) -> str | None:
    for effect in share.leads:
        value = effect.before if side == "before" else effect.after
        if value is not None:
            return _WORDS.get(str(value), str(value))
    return None
