"""What an edit makes a tool meet, to be drawn: the place, the tool as it stands there, and the number of the card that tells it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from verifier.compare import Side
from verifier.findings import Box, Finding, Status
from verifier.geometry import AT_CHANGES, Contact, Meeting, tool_at
from verifier.report.picture.scene import Point, rings_of


@dataclass(frozen=True, slots=True)
class Met:
    """One place where something is met. `tool`: the rings of what meets it, empty where that is not known."""

    number: int
    title: str
    box: Box
    tool: tuple[tuple[Point, ...], ...]


def told_meetings(findings: Iterable[Finding], numbers: Mapping[int, int]) -> Iterator[tuple[int, Finding, Box]]:
    """What the edits make a tool meet, each with the number of its card, in the order of the findings."""
    for finding in findings:
        number = next((numbers[edit] for edit in finding.edits if edit in numbers), None)
        if number is not None and finding.box is not None and finding.status in (Status.CHANGE, Status.NEW):
            yield number, finding, finding.box


def meetings(findings: Iterable[Finding], numbers: Mapping[int, int], side: Side) -> tuple[Met, ...]:
    """The same with the tool as it stands there."""
    part = side.part()
    known = {_box(one.where): one for one in (part.contacts if part is not None else ()) if one.where is not None}
    return tuple(
        Met(number, finding.title, box, _standing(known.get(box), side))
        for number, finding, box in told_meetings(findings, numbers)
    )


def _box(place: Meeting) -> Box:
    return place.z_from, place.z_to, place.r_from, place.r_to


def _standing(contact: Contact | None, side: Side) -> tuple[tuple[Point, ...], ...]:
    if contact is None or side.setup is None or (contact.kind in AT_CHANGES and not contact.move):
        return ()
    shape = tool_at(contact, side.trace, side.machine, side.setup)
    return rings_of(shape) if shape is not None else ()
