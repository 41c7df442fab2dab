"""What goes together: a program and those that it calls, each in the content that will be at the machine once both are released.

A change of a called program and of what calls it is submitted in two revisions, looked at together and released in one act. The reports of the
calling one say which content of the called one they rest on; that is how it is known which revisions belong to each other.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from verifier import records
from verifier.control import Library, library_of
from verifier.records import RevisionFacts, Shop, fold_program_name
from verifier.source import ActRefused, read_source
from verifier.syntax import parse

OPEN = ("submitted", "held", "cleared", "prove-out")
"""States of a revision that may still go to a machine; beside them one that stands there already."""


def open_revision(shop: Shop, program: str, target: str) -> RevisionFacts:
    """The newest revision of a program that is not yet released and may be; ActRefused `not_open` where there is none."""
    found = [one for one in records.revisions(shop, program, target) if one.state in OPEN]
    if not found:
        raise ActRefused(
            "not_open",
            f"{program} has no revision for {target} that waits to be released",
            "submit its revision first, then this one beside it",
        )
    return found[-1]


def companions(shop: Shop, revision: RevisionFacts, machine: str) -> tuple[RevisionFacts, ...]:
    """The open revisions of called programs that a revision's reports rest on and `machine` does not hold yet."""
    standing = {fold_program_name(one.program): one.sha for one in records.at_machine(shop, machine)}
    found: dict[int, RevisionFacts] = {}
    for report in records.reports(shop, revision.id):
        for called in report.called:
            if called.sha != revision.sha and standing.get(fold_program_name(called.name)) != called.sha:
                for one in _with_content(shop, called.name, revision.target, called.sha):
                    found[one.id] = one
    return tuple(found.values())


def callers(shop: Shop, revision: RevisionFacts) -> tuple[RevisionFacts, ...]:
    """The open revisions of other programs of the same target whose reports rest on this one's content."""
    waiting = [one for state in OPEN for one in records.in_state(shop, state)]
    return tuple(
        one
        for one in waiting
        if one.target == revision.target
        and one.program != revision.program
        and any(called.sha == revision.sha for report in records.reports(shop, one.id) for called in report.called)
    )


def _with_content(shop: Shop, program: str, target: str, sha: str) -> list[RevisionFacts]:
    try:
        known = records.revisions(shop, program, target)
    except ActRefused:  # no program of that name
        return []
    return [one for one in known if one.sha == sha and one.state in OPEN]


def library(shop: Shop, program: str, machine: str, instead: Iterable[tuple[str, str]] = ()) -> Library:
    """What a program may call at a machine: every other program that stands released there, and in place of it what `instead` holds.

    That are pairs of a program's name and the digest of its content.
    """
    contents: Mapping[str, tuple[str, str]] = {
        **{fold_program_name(one.program): (one.program, one.sha) for one in records.at_machine(shop, machine)},
        **{fold_program_name(name): (name, sha) for name, sha in instead},
    }
    own = fold_program_name(program)
    return library_of(
        parse(read_source(records.body(shop, sha), name)) for key, (name, sha) in contents.items() if key != own
    )
