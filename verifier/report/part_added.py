"""A report with its finished part: the cards with what each moves and shows, the prove-out list with what to measure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from verifier.findings import ChangeView, Finding
from verifier.report.cards import card_numbers, with_features
from verifier.report.change_report import Card, ChangeReport
from verifier.report.part_made import PartMade, part_of_change, to_measure
from verifier.report.picture.around import arounds
from verifier.report.prove_out import prove_out


def with_part(report: ChangeReport, change: ChangeView, findings: Sequence[Finding]) -> ChangeReport:
    """The report with all that rests on the finished part; `findings` are those that an edit of the text made."""
    part = part_of_change(change, change.policy)
    listed = prove_out(change, findings, part)
    affected = [entry.restart.sequence for entry in listed if entry.restart.sequence is not None]
    measured = replace(part.report, measure=to_measure(change, change.policy, part, affected)) if part else None
    return replace(report, cards=_cards(change, report, part), part=measured, prove_out=listed)


def _cards(change: ChangeView, report: ChangeReport, part: PartMade | None) -> tuple[Card, ...]:
    """The cards with what each moves on the finished part, and what its small picture shows."""
    numbers = card_numbers(change.comparison, report.cards, report.findings)
    made = with_features(report.cards, report.findings, numbers, part)
    boxes = {k: [part.boxes[row] for row in card.features] for k, card in enumerate(made, 1)} if part else {}
    around = arounds(change, numbers, boxes, report.findings)
    return tuple(replace(card, around=around.get(k)) for k, card in enumerate(made, 1))
