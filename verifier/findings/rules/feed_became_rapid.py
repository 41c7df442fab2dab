"""The rule `feed-became-rapid`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.compare import Effect, Item
from verifier.findings import shop
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn

_CUT = "G01 X58. F0.2\nZ-30.\nX62."


class FeedBecameRapid(ChangeRule):
    """A stretch that was travelled at feed is travelled at rapid.

    Where the stretch is clear of the stock that only saves time. Where it is not, the tool goes into the material at rapid: a broken
    tool, a moved part, a wrecked turret.
    """

    id = "feed-became-rapid"
    revision = 1
    weight = Weight.CRITICAL
    people = True
    mirror = "rapid-became-feed"
    title = "A feed move became a rapid."
    watch = "Single block and rapid override at its lowest up to this block; check the distance to the stock before letting it go on."
    examples = (
        Example("G01 became G00", turning(_CUT.replace("G01", "G00")), True, old=turning(_CUT), line=7),
        Example(
            "an air cut at rapid", turning("G00 X60.5\nG01 X58. F0.2\nZ-30.\nX62."), True, old=turning(_CUT), line=7
        ),
        Example("G01 said twice", turning(_CUT.replace("Z-30.", "G01 Z-30.")), False, old=turning(_CUT)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Moves that kept their end and lost their feed, and rapids put in along a line that was fed."""
        for effect in change.effects("kind"):
            if effect.before in ("feed", "arc_cw", "arc_ccw", "thread") and effect.after == "rapid":
                yield Drawn(self._title(change, effect), (effect,), before="feed", after="rapid")
        for effect in change.effects("added"):
            found = [d.new for d in effect.differences if d.new is not None and d.new.kind == "rapid"]
            if found and (along := _was_fed(change, found)) is not None:
                end = _end(change, along)
                yield Drawn(f"A part of a feed move is now a rapid, to {end}", (effect,), before="feed", after="rapid")

    def _title(self, change: ChangeView, effect: Effect) -> str:
        count = len(effect.differences)
        item = effect.first.new
        assert item is not None
        if count == 1:
            return f"Feed became rapid: the move to {_end(change, item)} is now at rapid"
        return f"Feed became rapid: {count} moves, the first to {_end(change, item)}, are now at rapid"


def _end(change: ChangeView, item: Item) -> str:
    parts = []
    if not item.end.bx:
        parts.append(f"X {shop.length(item.end.x, change.units, diameter=True)}")
    if not item.end.bz:
        parts.append(f"Z {shop.length(item.end.z, change.units)}")
    return " ".join(parts) or "a place only the machine knows"


def _was_fed(change: ChangeView, rapids: list[Item]) -> Item | None:
    """The first of these rapids that lies on a straight line that the old program fed along."""
    old = [item for item in change.old.items if item.kind == "feed"]
    for rapid in rapids:
        if any(_lies_on(rapid, item) for item in old):
            return rapid
    return None


def _lies_on(rapid: Item, fed: Item) -> bool:
    """Whether a stretch lies on another one: both ends on its line and between its ends (exact)."""
    if rapid.start.bx or rapid.start.bz or rapid.end.bx or rapid.end.bz or fed.start.bx or fed.start.bz:
        return False
    dx, dz = fed.end.x - fed.start.x, fed.end.z - fed.start.z
    length = dx * dx + dz * dz
    for x, z in ((rapid.start.x, rapid.start.z), (rapid.end.x, rapid.end.z)):
        ex, ez = x - fed.start.x, z - fed.start.z
        if dx * ez != dz * ex or not 0 <= ex * dx + ez * dz <= length:
            return False
    return (rapid.end.x - rapid.start.x) * dx + (rapid.end.z - rapid.start.z) * dz > 0
