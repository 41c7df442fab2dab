"""Approaches and retracts as findings: which coordinate changed, and what distance is left."""

from __future__ import annotations

from verifier.compare import Effect
from verifier.findings.model import Weight
from verifier.findings.ownership import Share
from verifier.findings.phrases import coordinate, heaviest, joined, millimetres
from verifier.findings.view import ChangeView, Drawn


def drawn_clearance(change: ChangeView, share: Share, name: str) -> Drawn:
    """The finding about the rapids of one share; `name` is "Approach" or "Retract"."""
    chief = _chief(change, share)
    parts: list[tuple[str, str]] = []
    for axis in ("x", "z"):
        effect = next((e for e in (chief, *share.leads) if e.field == axis and e.first.new is chief.first.new), None)
        if effect is not None:
            shown = change.facts.direct(effect) or effect.first  # not a level of a cycle that shares out the material
            before = coordinate(axis, shown.before, change.old.units)
            after = coordinate(axis, shown.after, change.new.units)
            parts.append((f"{axis.upper()} {before}", f"{axis.upper()} {after}"))
    found = change.facts.clearance_of(chief)
    weights = [c.weight for e in share.leads[:16] if (c := change.facts.clearance_of(e)) is not None]
    words = "" if found is None else _distance(change, found.before, found.after, found.against)
    return Drawn(
        f"{name} changed from {joined(f'{before} to {after}' for before, after in parts)}{words}",
        share.covers,
        before=parts[0][0] if parts else None,
        after=parts[0][1] if parts else None,
        weight=heaviest(weights) if weights else Weight.MAJOR,
    )


def _chief(change: ChangeView, share: Share) -> Effect:
    blocks = {b for k in share.causes if k >= 0 for b in change.edits[k].new}
    own = (e for e in share.leads if e.first.new is not None and e.first.new.block in blocks)
    return next(own, share.leads[0])


def _distance(change: ChangeView, before: float | None, after: float | None, against: str) -> str:
    if before is None or after is None:
        return "; the distance cannot be computed"
    stock = "" if against == "the stock" else " (no stock to measure from)"
    return f"; {millimetres(after, change.units)} from {against}, {millimetres(before, change.units)} before{stock}"
