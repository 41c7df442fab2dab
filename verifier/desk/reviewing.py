"""The reports on one content: compared with each ground that its machines hold, under what is in force now."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from verifier import records
from verifier.control import Library
from verifier.desk.companions import library
from verifier.findings import Policy
from verifier.machines import Machine, Setup
from verifier.records import AcceptanceFacts, Ground, RevisionFacts, Shop
from verifier.report import Acceptance, Reviewed, examined, reviewed
from verifier.source import ActRefused, read_source
from verifier.syntax import Program, parse, parse_program


@dataclass(frozen=True, slots=True)
class Place:
    """A program at its machines: `first` is the machine whose released programs it may call, as a group holds the same.

    `beside` are the revisions of called programs that go with it, `accepted` the acceptances of hazards that count.
    """

    program: str
    target: str
    first: str
    machine: Machine
    setup: Setup | None
    policy: Policy
    beside: tuple[RevisionFacts, ...] = ()
    accepted: tuple[Acceptance, ...] = ()


def read(body: bytes, name: str) -> Program:
    """A program's words. Raises SourceRefused."""
    return parse(read_source(body, name))


def handed_in(body: bytes, name: str) -> Program:
    """The words of a program that somebody hands in. Raises SourceRefused, also where it does not read as a program."""
    return parse_program(read_source(body, name))


def accepted_now(shop: Shop, program: str, target: str) -> tuple[Acceptance, ...]:
    """The acceptances of a program that hold; none where there is no such program yet."""
    try:
        found = records.acceptances(shop, program, target)
    except ActRefused:
        return ()
    return tuple(_acceptance(one) for one in found if one.ended_us is None)


def accepted_before(shop: Shop, revision: RevisionFacts) -> tuple[Acceptance, ...]:
    """The acceptances that a revision's reports rest on, as far as they still hold.

    One that was given since takes nothing away from what was told there in full: it counts from the next report on.
    """
    numbers = {number for report in records.reports(shop, revision.id) for number in report.accepted}
    return tuple(one for one in accepted_now(shop, revision.program, revision.target) if one.number in numbers)


def _acceptance(found: AcceptanceFacts) -> Acceptance:
    at = datetime.fromtimestamp(found.at_us // 1_000_000, tz=UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    return Acceptance(found.id, found.key, found.by, at, found.reason)


def reviews(shop: Shop, new: Program, place: Place, grounds: Sequence[Ground]) -> tuple[Reviewed, ...]:
    """One report for each ground, in their order."""
    released = library(shop, place.program, place.first)
    may_call = _with(shop, place, place.beside) if place.beside else released
    return tuple(_review(shop, new, ground, place, (released, may_call)) for ground in grounds)


def _with(shop: Shop, place: Place, beside: Sequence[RevisionFacts]) -> Library:
    return library(shop, place.program, place.first, [(one.program, one.sha) for one in beside])


def compared(shop: Shop, old: tuple[Program, Place], new: tuple[Program, Place]) -> Reviewed:
    """Two programs as each runs at its own machine, with its own setup sheet and the programs that it may call there; judged by the new one's policy.

    Where the old one came without a sheet, it is run with the new one's.
    """
    (before, there), (after, here) = old, new
    return reviewed(
        before,
        after,
        machine=here.machine,
        old_machine=there.machine if there.machine.digest != here.machine.digest else None,
        setup=here.setup,
        old_setup=there.setup,
        policy=here.policy,
        library=_with(shop, here, here.beside),
        old_library=_with(shop, there, there.beside),
    )


def _review(shop: Shop, new: Program, ground: Ground, place: Place, libraries: tuple[Library, Library]) -> Reviewed:
    released, may_call = libraries
    machine, setup, policy = place.machine, place.setup, place.policy
    if ground.base_sha is None:
        return examined(new, machine=machine, setup=setup, policy=policy, library=may_call)
    proven = ground.proven_sha
    return reviewed(
        read(records.body(shop, ground.base_sha), place.program),
        new,
        machine=machine,
        setup=setup,
        policy=policy,
        library=may_call,
        old_library=released,
        proven=read(records.body(shop, proven), place.program) if proven is not None else None,
        proven_library=_called_then(shop, new, proven, place) if proven is not None else None,
        accepted=place.accepted,
    )


def _called_then(shop: Shop, new: Program, proven_sha: str, place: Place) -> Library:
    """What the proven revision called when it was signed off, so that small steps in what is called add up as well."""
    called = records.called_when_proven(shop, place.program, place.target, new.source.sha256, proven_sha)
    return library(shop, place.program, place.first, [(one.name, one.sha) for one in called])
