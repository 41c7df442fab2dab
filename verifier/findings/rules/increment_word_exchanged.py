"""The rule `increment-word-exchanged`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.phrases import coordinate, joined
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn

_CUT = "G01 X58. F0.2\nZ-30.\nX62."


class IncrementWordExchanged(ChangeRule):
    """A place is named by the other word of its axis: X and U, or Z and W, were exchanged.

    X and Z name a place, U and W count from where the tool is. The same number leads somewhere else, and every increment behind it too.
    """

    id = "increment-word-exchanged"
    revision = 2
    weight = Weight.CRITICAL
    people = True
    mirror = "increment-word-exchanged"
    title = "An increment word stands for a place word, or the other way round."
    watch = "Do not run it before somebody worked out where this block leads; then single block at low override."
    examples = (
        Example("Z became W", turning(_CUT.replace("Z-30.", "W-30.")), True, old=turning(_CUT), line=8),
        Example("the same place as an increment", turning(_CUT.replace("Z-30.", "W-32.")), False, old=turning(_CUT)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """The words that were exchanged and lead elsewhere, with all that follows from them."""
        for share in change.shares(self.id):
            found = [pair for k in share.causes if k >= 0 for pair in change.facts.words[k].exchanged]
            texts = dict.fromkeys((old.text, new.text) for old, new in found)
            shown = joined(f"{old} is now {new}" for old, new in texts)
            place = next((e for e in share.leads if e.field in ("x", "z")), None)
            where = ""
            if place is not None:
                before, after = (coordinate(place.field, v, change.units) for v in (place.before, place.after))
                where = f": {place.field.upper()} goes to {after} instead of {before}"
            first = next(iter(texts))
            yield Drawn(f"Increment word exchanged: {shown}{where}", share.covers, before=first[0], after=first[1])
