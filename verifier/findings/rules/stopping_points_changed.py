"""The rule `stopping-points-changed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.compare import Item
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.phrases import counted, end_of
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn

_CYCLE = "G90 X58. Z-30. F0.2"
_WRITTEN = "G00 X58.\nG01 Z-30. F0.2\nX62.\nG00 Z2."


class StoppingPointsChanged(ChangeRule):
    """The same path is interrupted at other places in single block.

    A cycle written out, or blocks joined to one, cut the same. Who goes through it block by block stops elsewhere than before, and a feed hold
    inside a cycle may act later.
    """

    id = "stopping-points-changed"
    revision = 1
    weight = Weight.MINOR
    mirror = "stopping-points-changed"
    title = "Single block stops at other places."
    watch = "Expect other stops in single block; the path is the same."
    examples = (
        Example("a cycle written out", turning(_WRITTEN), True, old=turning(_CYCLE), line=7),
        Example("the same blocks", turning(_CYCLE), False, old=turning(_CYCLE.replace("F0.2", "F.2"))),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Stretches that are the same on both sides and are divided otherwise."""
        found = [pair for pair in change.comparison.stops_differ if _same_path(pair) or not change.comparison.effects]
        if not found:
            return
        edits = change.comparison.edits
        causes: dict[int, None] = {}
        for old, new in found:
            for item, owner in ((old, edits.of_old), (new, edits.of_new)):
                blocks = item.blocks if item is not None else ()
                causes.update(dict.fromkeys(int(owner[b]) for b in blocks if owner[b] >= 0))
        items = [item for pair in found if (item := pair[1] or pair[0]) is not None]
        where = f", first on the way to {end_of(items[0], change.units)}" if items and items[0].is_move else ""
        places = tuple(dict.fromkeys(change.new.place(new.block) for _, new in found if new is not None))
        yield Drawn(
            f"The path is the same, but single block stops at other places on {counted(len(found), 'stretch', 'stretches')}{where}",
            edits=tuple(sorted(causes)),
            effects=places[:12],
            at=() if causes else places[:1],
        )


def _same_path(pair: tuple[Item | None, Item | None]) -> bool:
    old, new = pair
    if old is None or new is None or not old.is_move or not new.is_move:
        return False
    return (old.kind, old.start, old.end, old.centre) == (new.kind, new.start, new.end, new.centre)
