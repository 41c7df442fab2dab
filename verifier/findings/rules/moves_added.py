"""The rule `moves-added`."""

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


class MovesAdded(ChangeRule):
    """The tool makes moves that it did not make before.

    Somebody put a cut in, or a way round something. Whether there is material, and what stands in the way, only the new moves themselves tell.
    """

    id = "moves-added"
    revision = 4
    weight = Weight.MAJOR
    mirror = "moves-removed"
    title = "Moves are added."
    watch = "Run the new moves in single block, first clear of the part."
    examples = (
        Example("a cut put in", turning(_MORE), True, old=turning(_CUT), line=10),
        Example("one move in two pieces", turning(_CUT.replace("Z-30.", "Z-10.\nZ-30.")), False, old=turning(_CUT)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """One finding for each set of edits: from where to where, and how much of it at feed."""
        for share in change.shares(self.id):
            found = [effect for effect in share.covers if effect.field == "added"]
            moves = [item for item in items_of_effects(found) if item.is_move]
            way = way_of(moves, change.new.units)
            if found and all(as_written(change.facts, effect) for effect in found):
                title = f"Made as written now, because the cycle in front cannot be computed any more: {counted(len(moves), 'move')}, {way}"
                yield Drawn(title, share.covers)
                continue
            if all(only_divides(change.facts, effect) for effect in found):
                title = f"The cut along the same line is made in pieces now: {counted(len(moves), 'move')} added, {way}"
                yield Drawn(title, share.covers, weight=Weight.MINOR)
                continue
            blind = bool(found) and all(cycle_not_executed(change.facts, effect) for effect in found)
            unknown = "; their cycle could not be computed before" if blind else ""
            yield Drawn(
                f"{counted(len(moves), 'move')} added, {way}: {cut_length(moves, change.new.units)}{unknown}",
                share.covers,
                weight=Weight.MAJOR if any(item.cuts for item in moves) else Weight.MINOR,
            )
