"""The rule `moves-removed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.examples import turning
from verifier.findings.homes import only_divides
from verifier.findings.model import Weight
from verifier.findings.phrases import counted, cut_length, items_of_effects, way_of
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.uncomputed import as_written, cycle_not_executed
from verifier.findings.view import ChangeView, Drawn

_CUT = "G01 X58. F0.2\nZ-30.\nX62."
_MORE = _CUT + "\nG00 Z-50.\nG01 X40. F0.1\nG00 X62."


class MovesRemoved(ChangeRule):
    """The tool does not make moves any more that it made before.

    A cut that is left out leaves its material to the next one, which was not made for so much. A way round something is now a way through it.
    """

    id = "moves-removed"
    revision = 4
    weight = Weight.MAJOR
    mirror = "moves-added"
    title = "Moves are removed."
    watch = "Look what is left standing, and which tool meets it next; check the way from the move before to the move after."
    examples = (
        Example("a cut taken out", turning(_CUT), True, old=turning(_MORE), line=10),
        Example("two pieces in one move", turning(_CUT), False, old=turning(_CUT.replace("Z-30.", "Z-10.\nZ-30."))),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """One finding for each set of edits: from where to where, and how much of it at feed."""
        for share in change.shares(self.id):
            found = [effect for effect in share.covers if effect.field == "removed"]
            moves = [item for item in items_of_effects(found) if item.is_move]
            way = way_of(moves, change.old.units)
            if found and all(as_written(change.facts, effect) for effect in found):
                title = f"Made as written before, because the cycle in front could not be computed: {counted(len(moves), 'move')}, {way}"
                yield Drawn(title, share.covers)
                continue
            if all(only_divides(change.facts, effect) for effect in found):
                title = f"The cut along the same line is made in one piece now: {counted(len(moves), 'move')} removed, {way}"
                yield Drawn(title, share.covers, weight=Weight.MINOR)
                continue
            blind = bool(found) and all(cycle_not_executed(change.facts, effect) for effect in found)
            unknown = "; their cycle cannot be computed now" if blind else ""
            yield Drawn(
                f"{counted(len(moves), 'move')} removed, {way}: {cut_length(moves, change.old.units)}{unknown}",
                share.covers,
                weight=Weight.MAJOR if any(item.cuts for item in moves) else Weight.MINOR,
            )
