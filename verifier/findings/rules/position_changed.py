"""The rule `position-changed`."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from verifier.compare import Effect
from verifier.findings import shop
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.ownership import Share
from verifier.findings.phrases import coordinate, heaviest, programmed
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.sizes import SizeJudgement, judge_size
from verifier.findings.view import ChangeView, Drawn

_CUT = "G01 X58. F0.2\nZ-30.\nX62."
_SHOWN = 16
"""So many places of one share are judged; the rest are of the same edit."""


class PositionChanged(ChangeRule):
    """A cut ends at another place than before.

    The part gets another size there. A programmed size is usually the middle of its limits, so that a small change can still be a fit lost.
    """

    id = "position-changed"
    revision = 2
    weight = Weight.MAJOR
    mirror = "position-changed"
    title = "A cut ends at another place."
    watch = "Measure this size on the first part, and hold it against the drawing before the second one."
    examples = (
        Example("another diameter", turning(_CUT.replace("X58.", "X57.6")), True, old=turning(_CUT), line=7),
        Example("another length", turning(_CUT.replace("Z-30.", "Z-31.")), True, old=turning(_CUT), line=8),
        Example("the same size as an increment", turning(_CUT.replace("Z-30.", "W-32.")), False, old=turning(_CUT)),
        Example("sign lost", turning(_CUT.replace("Z-30.", "Z30.")), False, old=turning(_CUT)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """One finding for each set of edits, with the size that its own blocks name."""
        for share in change.shares(self.id):
            yield self._drawn(change, share)

    def _drawn(self, change: ChangeView, share: Share) -> Drawn:
        parts, first = [], (None, None)
        weights = [_judged(change, effect).weight for effect in share.leads[:_SHOWN]]
        for axis in ("x", "z"):
            chief = _chief(change, share, axis)
            if chief is None:
                continue
            places = _places(change, chief)
            before = coordinate(axis, places[0], change.old.units)
            after = coordinate(axis, places[1], change.new.units)
            judged = _judged(change, chief)
            weights.append(judged.weight)
            parts.append(f"{axis.upper()} changed from {before} to {after}{_size_words(change, chief)}: {judged.words}")
            first = (f"{axis.upper()} {before}", f"{axis.upper()} {after}") if first == (None, None) else first  # type: ignore[assignment]
        return Drawn("; ".join(parts), share.covers, before=first[0], after=first[1], weight=heaviest(weights))


def _chief(change: ChangeView, share: Share, axis: str) -> Effect | None:
    """The effect that the edit's own block shows first, else the first one along the axis."""
    found = [effect for effect in share.leads if effect.field == axis]
    blocks = {b for k in share.causes if k >= 0 for b in change.edits[k].new}
    direct = [effect for effect in found if change.facts.direct(effect) is not None]
    own = (e for e in direct if any(d.new is not None and d.new.block in blocks for d in e.differences))
    return next(own, next(iter(direct or found), None))


def _known(change: ChangeView, effect: Effect) -> tuple[Fraction, Fraction] | None:
    before, after = _places(change, effect)
    if not isinstance(before, tuple) or not isinstance(after, tuple) or before[0] or after[0]:
        return None
    return programmed(effect.field, before[1]), programmed(effect.field, after[1])


def _places(change: ChangeView, effect: Effect) -> tuple[object, object]:
    """The coordinate before and after, on a move that is not part of a roughing cycle where there is one."""
    difference = change.facts.direct(effect) or effect.first
    return difference.before, difference.after


def _judged(change: ChangeView, effect: Effect) -> SizeJudgement:
    pair = _known(change, effect)
    if pair is None:
        return SizeJudgement(Weight.MAJOR, "the size cannot be computed")
    return judge_size(effect.field.upper(), *pair, change.comparison.new.setup, change.policy, change.units)


def _size_words(change: ChangeView, effect: Effect) -> str:
    """By how much, and which way where the size is on one side of zero."""
    pair = _known(change, effect)
    if pair is None:
        return ""
    moved = shop.millimetres(abs(pair[1] - pair[0]), change.units)
    if pair[0] * pair[1] <= 0:
        return f" ({moved} away)"
    way = "bigger" if abs(pair[1]) > abs(pair[0]) else "smaller"
    return f" ({moved} {way if effect.field == 'x' else {'bigger': 'longer', 'smaller': 'shorter'}[way]})"
