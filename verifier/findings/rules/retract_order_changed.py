"""The rule `retract-order-changed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.ownership import Share
from verifier.findings.phrases import end_of
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn
from verifier.findings.ways_out import WayOut, axes, ways_out

_GROOVE = "G00 X62. Z-20.\nG01 X50. F0.1\nG00 X62.\nZ2."
_BORE = "G00 X20. Z2.\nG01 Z-30. F0.1\nX19.\nG00 Z5.\nX60."


class RetractOrderChanged(ChangeRule):
    """X and Z leave a cut in another order, or together where one of them went first.

    A blade leaves its groove along X, a boring bar its bore along Z. Moved the other way, or slantwise, the tool is torn through the wall at
    rapid, or passes the tailstock on a way that nobody looked at.
    """

    id = "retract-order-changed"
    revision = 1
    weight = Weight.MAJOR
    people = True
    mirror = "retract-order-changed"
    title = "The order of the axes in a retract is changed."
    watch = "Single block behind this cut, lowest rapid override, and the hand on feed hold until the tool is out."
    examples = (
        Example("out of a groove sideways", turning(_GROOVE.replace("X62.\nZ2.", "Z2.\nX62.")), True, old=turning(_GROOVE)),
        Example("out of a groove slantwise", turning(_GROOVE.replace("X62.\nZ2.", "X62. Z2.")), True, old=turning(_GROOVE)),
        Example("out of a bore sideways", turning(_BORE.replace("Z5.\nX60.", "X60.\nZ5.")), True, old=turning(_BORE)),
        Example("farther, in the same order", turning(_GROOVE.replace("Z2.", "Z5.")), False, old=turning(_GROOVE)),
        Example("both axes, as before", turning("G01 Z-30. F0.2\nX62."), False, old=turning("G01 Z-31. F0.2\nX62.")),
    )  # fmt: skip

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """One finding for each way out of a cut: which axis leaves first, before and after."""
        groups: dict[tuple[int, int], tuple[tuple[WayOut, WayOut], list[Share]]] = {}
        for share in change.shares(self.id):
            found = next((pair for e in share.leads if (pair := ways_out(change.facts, e)) is not None), None)
            if found is not None:
                key = (found[0].cut.first, found[1].cut.first)
                groups.setdefault(key, (found, []))[1].append(share)
        for (old, new), shares in groups.values():
            yield self._drawn(change, shares, old, new)

    def _drawn(self, change: ChangeView, shares: list[Share], old: WayOut, new: WayOut) -> Drawn:
        before, after = _words(old), _words(new)
        sideways = (old.straight_back and not new.straight_back) or _through_the_wall(change, shares[0], old, new)
        words = ": sideways out of the cut" if sideways else ""
        return Drawn(
            f"Retract order changed: {after} now, {before} before, from {end_of(new.cut, change.new.units)}{words}",
            tuple(effect for share in shares for effect in share.covers),
            before=before,
            after=after,
            weight=Weight.CRITICAL if words else Weight.MAJOR,
        )


def _words(way: WayOut) -> str:
    return "X and Z together" if len(way.first) > 1 else f"{next(iter(way.first))} first"


def _through_the_wall(change: ChangeView, share: Share, old: WayOut, new: WayOut) -> bool:
    """Whether the last cut only lifted the tool off the wall along X, and it now goes back through that wall while it is still inside."""
    path = change.facts.paths(share.leads[0].position)[1]
    before, leg = path.last_cut(new.cut), new.legs[0]
    if before is None or axes(new.cut) != {"X"} or axes(before) != {"Z"} or old.first != {"Z"} or leg.end.bx:
        return False
    if abs(new.cut.end.x - new.cut.start.x) >= abs(before.end.z - before.start.z):
        return False  # no lift-off behind a long cut, but a face behind a short one
    return (new.cut.end.x - new.cut.start.x) * (leg.end.x - leg.start.x) < 0
