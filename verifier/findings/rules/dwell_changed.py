"""The rule `dwell-changed`."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from verifier.compare import Effect
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.ownership import Share
from verifier.findings.phrases import each
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.shop import seconds
from verifier.findings.uncomputed import unknown_outcome
from verifier.findings.uncomputed_blocks import dwell_not_computed, dwell_word
from verifier.findings.view import ChangeView, Drawn

_GROOVE = "G01 X50. F0.1\nG04 U1.\nG00 X62."


_FAR = 10
"""A dwell so many times as long or as short is another one, whatever it waits for (common practice, no source)."""


def _far_off(effect: Effect) -> bool:
    before, after = (str(value).partition(" ") for value in (effect.before, effect.after))
    try:
        times = [Fraction(before[0]), Fraction(after[0])]
    except ValueError:
        return True
    return before[2] != after[2] or max(times) >= _FAR * min(times)


def _lost(change: ChangeView, effect: Effect) -> str:
    """The word whose point was lost, gained or moved, where that did it."""
    points = [
        c for words in change.facts.words_of(effect) for c in words.points if c.old is not None and c.new is not None
    ]
    return f": {points[0].old.text} is now {points[0].new.text}" if points and points[0].old and points[0].new else ""


class DwellChanged(ChangeRule):
    """A dwell came, went or lasts another time.

    At the bottom of a groove the dwell turns the ground round; at a stop it gives coolant, chuck or swarf the time they need. Too long at depth,
    and the edge rubs itself blunt. A time that is none (below zero, or not given) stops one control and is left out by another.
    """

    id = "dwell-changed"
    revision = 3
    weight = Weight.MAJOR
    mirror = "dwell-changed"
    title = "A dwell is changed."
    watch = "Look at the ground of the groove, or at what the dwell waited for."
    examples = (
        Example("dwell taken out", turning(_GROOVE.replace("G04 U1.\n", "")), True, old=turning(_GROOVE), line=8),
        Example("longer", turning(_GROOVE.replace("U1.", "U2.")), True, old=turning(_GROOVE), line=8),
        Example("the point lost", turning(_GROOVE.replace("U1.", "U1")), True, old=turning(_GROOVE), line=8),
        Example("a time below zero", turning(_GROOVE.replace("U1.", "U-1.")), True, old=turning(_GROOVE), line=8),
        Example("in thousandths", turning(_GROOVE.replace("U1.", "P1000")), False, old=turning(_GROOVE)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Dwells that are not, were not, or last another time."""
        for share in change.shares(self.id):
            if any(dwell_not_computed(change.facts, effect) for effect in share.leads):
                yield _not_computed(change, share)
            else:
                yield from each(share, lambda effect: self._drawn(change, effect))

    def _drawn(self, change: ChangeView, effect: Effect) -> Drawn:
        before, after = (None if value is None else seconds(str(value)) for value in (effect.before, effect.after))
        at_depth = any(
            item is not None and path.follows_cut(item)
            for d in effect.differences
            for path, item in zip(change.facts.paths(effect.position), (d.old, d.new), strict=True)
        )
        if effect.field == "order":
            title, weight = "A dwell is made at another time", Weight.MINOR
        elif before is None:
            title, weight = f"Dwell added: {after}", Weight.MAJOR if at_depth else Weight.MINOR
        elif after is None:
            title, weight = f"Dwell removed: {before}", Weight.MAJOR
        else:
            title = f"Dwell changed from {before} to {after}{_lost(change, effect)}"
            weight = Weight.MAJOR if at_depth or _far_off(effect) else Weight.MINOR
        times = f", {len(effect.differences)} times" if len(effect.differences) > 1 else ""
        title += (", at the end of a cut" if at_depth else "") + times
        return Drawn(title, before=before, after=after, weight=weight)


def _not_computed(change: ChangeView, share: Share) -> Drawn:
    """A dwell whose time could not be computed on one side or on both: before and now its time, or its word and why that is no time."""
    facts, told, why = change.facts, ["", ""], ["", ""]
    for effect in share.leads:
        for side, time in enumerate((effect.before, effect.after)):
            word, reason = dwell_word(facts, effect, side)
            if word:
                told[side], why[side] = word, reason
            elif time is not None and not told[side]:
                told[side] = seconds(str(time))
    before, after = told
    what = (
        f"changed from {before} to {after}"
        if before and after
        else f"added: {after}"
        if after
        else f"removed: {before}"
    )
    blind = [any(dwell_word(facts, effect, side)[0] for effect in share.leads) for side in (0, 1)]
    unknown = unknown_outcome("both" if all(blind) else "new" if blind[1] else "old", why[1] or why[0])
    return Drawn(f"Dwell {what}; {unknown}", share.covers, before=before or None, after=after or None)
