"""The rule `tool-change-position-changed`."""

from __future__ import annotations

from collections.abc import Iterable
from math import hypot

from verifier.compare import Item
from verifier.control import TICKS_PER_MM
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.ownership import Share
from verifier.findings.paths import Path
from verifier.findings.phrases import millimetres, stands_words
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn
from verifier.findings.ways_out import calls

_CUT = "G01 Z-30. F0.2\nX62.\n{}M01\nN2 T0303\nG97 S800 M03\nG00 X62. Z-20.\nG01 X50. F0.1\nX62."
_FAR = _CUT.format("G00 X150. Z80.\n")


class ToolChangePositionChanged(ChangeRule):
    """The next tool is called at another place.

    The turret turns there, with its longest tool out. Nearer, that tool meets part, chuck or tailstock; farther, the slide may meet its end
    or the door.
    """

    id = "tool-change-position-changed"
    revision = 1
    weight = Weight.MAJOR
    people = True
    mirror = "tool-change-position-changed"
    title = "The tool change position is changed."
    watch = "Stop before the tool call, and see that every tool of the turret can swing there."
    examples = (
        Example("nearer", turning(_CUT.format("G00 X150. Z10.\n")), True, old=turning(_FAR), line=9),
        Example("farther", turning(_CUT.format("G00 X150. Z120.\n")), True, old=turning(_FAR), line=9),
        Example("retract taken out", turning(_CUT.format("")), True, old=turning(_FAR), line=9),
        Example("said in other words", turning(_CUT.format("G00 X150.0 Z80\n".replace("Z80", "Z80.0"))), False, old=turning(_FAR)),
        Example("no tool is called there", turning("G01 Z-30. F0.2\nG00 X90."), False, old=turning("G01 Z-30. F0.2\nG00 X95.")),
    )  # fmt: skip

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """One finding for each call: the places, and how far they are from the last cut."""
        groups: dict[tuple[int, int], tuple[tuple[Item, Item], list[Share]]] = {}
        for share in change.shares(self.id):
            found = next((pair for e in share.leads if (pair := calls(change.facts, e)) is not None), None)
            if found is not None:
                groups.setdefault((found[0].first, found[1].first), (found, []))[1].append(share)
        for (old, new), shares in groups.values():
            yield self._drawn(change, shares, old, new)

    def _drawn(self, change: ChangeView, shares: list[Share], old: Item, new: Item) -> Drawn:
        paths, views = change.facts.paths(shares[0].leads[0].position), change.views()
        told = list(zip(paths, (old, new), views, strict=True))
        before, after = (stands_words(path.stands(call), view.units) for path, call, view in told)
        far = [millimetres(_distance(path, call), view.units) for path, call, view in told]
        words = f"; {far[1]} from the end of the last cut, {far[0]} before" if "unknown" not in far else ""
        return Drawn(
            f"Tool change position changed: {new.value.split(' ')[0]} is called from {after}, from {before} before{words}",
            tuple(effect for share in shares for effect in share.covers),
            before=before,
            after=after,
        )


def _distance(path: Path, call: Item) -> float | None:
    """From the end of the last cut to where the tool is called, in mm."""
    place, cut = path.stands(call), path.last_cut(call)
    if place is None or cut is None or any((place.bx, place.bz, cut.end.bx, cut.end.bz)):
        return None
    return hypot(place.x - cut.end.x, place.z - cut.end.z) / TICKS_PER_MM
