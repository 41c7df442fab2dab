"""The rule `decimal-point-lost`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.compare import WordChange
from verifier.findings import shop
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.ownership import Share
from verifier.findings.phrases import amounts_of, coordinate, joined, not_computed
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn, item_of
from verifier.findings.words import AXIS

_CUT = "G01 X58. F0.2\nZ-30.\nX62."


class DecimalPointLost(ChangeRule):
    """A decimal point was lost, gained or moved: the same digits are another number now.

    Many controls read a number without a point in least increments, so that 35 is 0.035 mm: a cut planned for the diameter goes to the centre
    line. A point at another place is a factor of ten.
    """

    id = "decimal-point-lost"
    revision = 2
    weight = Weight.CRITICAL
    people = True
    mirror = "decimal-point-lost"
    title = "A decimal point was lost, gained or moved."
    watch = "Do not run it: put the point back, or have it confirmed that the other value is meant."
    examples = (
        Example("point lost", turning(_CUT.replace("X58.", "X58")), True, old=turning(_CUT), line=7),
        Example("point moved in a feed", turning(_CUT.replace("F0.2", "F2.")), True, old=turning(_CUT), line=7),
        Example("zeros behind the point", turning(_CUT.replace("X58.", "X58.000")), False, old=turning(_CUT)),
        Example("another number", turning(_CUT.replace("X58.", "X57.")), False, old=turning(_CUT)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """The words whose point changed and which are read as something else, with all that follows from them."""
        for share in change.shares(self.id):
            words = [c for k in share.causes if k >= 0 for c in change.facts.words[k].points]
            pairs = dict.fromkeys((c.old.text, c.new.text) for c in words if c.old is not None and c.new is not None)
            shown = joined(f"{old} is now {new}" for old, new in pairs)
            first = next(iter(pairs))
            feeds_only = all(effect.field == "feed" for effect in share.leads)
            yield Drawn(
                f"{_what(words)}: {shown}{_read(change, share)}{not_computed(change, share)}",
                share.covers,
                before=first[0],
                after=first[1],
                weight=Weight.MAJOR if feeds_only else Weight.CRITICAL,
            )


def _what(words: list[WordChange]) -> str:
    ways = {
        (c.old.number.pointed, c.new.number.pointed) for c in words if c.old and c.new and c.old.number and c.new.number
    }
    if ways == {(True, False)}:
        return "Decimal point lost"
    if ways == {(False, True)}:
        return "Decimal point gained"
    return "Decimal point moved"


def _read(change: ChangeView, share: Share) -> str:
    """What the words are read as, where a cycle or an effect says it."""
    amounts = amounts_of(change, share)
    if amounts:
        return amounts
    for effect in share.leads:
        if effect.field in ("x", "z"):
            letters = [c.letter for k in share.causes if k >= 0 for c in change.facts.words[k].points]
            letter = next((k for k in letters if AXIS.get(k) == effect.field), effect.field.upper())
            before, after = (coordinate(effect.field, v, change.units) for v in (effect.before, effect.after))
            return f": {letter} leads to {after} instead of {before}"
        if effect.field == "feed":
            mode = item_of(effect.first).state.feed_mode
            before, after = (shop.feed(v, mode, change.units) for v in (effect.before, effect.after))
            return f": the feed is {after} instead of {before}"
    return ""
