"""What the small picture of each card shows: what a tool meets, else the features that it moves, else the stretch of path that it changes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from verifier.findings import Box, Finding
from verifier.findings.view import ChangeView
from verifier.report.picture.met import told_meetings
from verifier.report.picture.scene import marks_of

PICTURED = 7
"""So many cards have a small picture: those of the first screen."""


def arounds(
    change: ChangeView,
    numbers: Mapping[int, int],
    features: Mapping[int, Sequence[Sequence[Box]]],
    findings: Sequence[Finding],
) -> dict[int, Box]:
    """The box for each card that has one, by its number; `features` are the boxes of the features that a card moves, before and after each.

    Where a card tells of something that is met, that has the picture: it is what a reader must see.
    """
    found: dict[int, Box] = {}
    for mark in marks_of(change, {edit: number for edit, number in numbers.items() if number <= PICTURED}):
        (z0, r0), (z1, r1) = mark.box
        found[mark.number] = z0, z1, r0, r1
    for number, boxes in features.items():
        own = [box for pair in boxes for box in pair]
        if own and number <= PICTURED:
            found[number] = _united(own)
    met: dict[int, list[Box]] = {}
    for number, _, box in told_meetings(findings, numbers):
        met.setdefault(number, []).append(box)
    found |= {number: _united(places) for number, places in met.items() if number <= PICTURED}
    return found


def _united(boxes: Iterable[Box]) -> Box:
    z0, z1, r0, r1 = zip(*boxes, strict=True)
    return min(z0), max(z1), min(r0), max(r1)
