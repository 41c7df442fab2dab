"""The hazards of a report that stood before: what an acceptance of each is bound to, and which are accepted already.

Acceptances are an input like the policy: a report computed with them names each one that it rests on, and its digest covers that. They change
nothing but how much room a hazard takes; verdict, sign-off, touched words and cards are made without them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from verifier.compare import UNDETERMINED
from verifier.findings import Finding, Status

NOT_TOLD = "whether this change does something there cannot be told"


@dataclass(frozen=True, slots=True)
class Acceptance:
    """A lead's statement that one hazard may stand as it is: its number in the records, what it is bound to, who, when (UTC), why."""

    number: int
    key: str
    by: str
    at: str
    reason: str


@dataclass(frozen=True, slots=True)
class StandingRow:
    """One hazard that stood before: the index of its finding, what an acceptance of it is bound to, and the one that holds.

    `key` is None where none is possible; `told` says why it is told in full whatever was accepted ("": nothing does); `words` are the blocks
    that it points at, the first few. Only where `accepted` is None is the hazard told in full.
    """

    finding: int
    key: str | None
    words: tuple[str, ...]
    told: str
    accepted: Acceptance | None


def standing_rows(findings: Iterable[Finding], verdict: str, accepted: Iterable[Acceptance]) -> tuple[StandingRow, ...]:
    """A row for each hazard that stood before, in the order of the findings."""
    known = {one.key: one for one in accepted}
    return tuple(
        _row(number, finding, verdict, known)
        for number, finding in enumerate(findings)
        if finding.status is Status.STANDING
    )


def _row(number: int, finding: Finding, verdict: str, known: dict[str, Acceptance]) -> StandingRow:
    stand = finding.stand
    if stand is None or not stand.key:
        return StandingRow(number, None, stand.words if stand else (), stand.told if stand else NOT_TOLD, None)
    told = NOT_TOLD if verdict == UNDETERMINED else stand.told
    return StandingRow(number, stand.key, stand.words, told, None if told else known.get(stand.key))


# -- taken from a report's JSON form, so that a stored report and one just computed give the same -------------------------


@dataclass(frozen=True, slots=True)
class Acceptable:
    """A hazard of a report that a lead may accept: its key, what it says, and the blocks that it points at."""

    key: str
    rule: str
    revision: int
    weight: str
    title: str
    line: int | None
    words: tuple[str, ...]


def acceptable(report: Mapping[str, Any]) -> tuple[Acceptable, ...]:
    """The hazards of a report (its JSON form) that may be accepted, in its order; those that are accepted already are among them."""
    findings = report.get("findings", ())
    rows = [row for row in report.get("standing", ()) if row["key"] is not None and not row["told"]]
    return tuple(_acceptable(row, findings[row["finding"]]) for row in rows)


def _acceptable(row: Mapping[str, Any], finding: Mapping[str, Any]) -> Acceptable:
    line = finding["causes"][0]["line"] if finding["causes"] else None
    said = (finding["rule"], finding["revision"], finding["weight"], finding["title"])
    return Acceptable(row["key"], *said, line, tuple(row["words"]))


def accepted_numbers(report: Mapping[str, Any]) -> tuple[int, ...]:
    """The numbers of the acceptances that a report (its JSON form) rests on, each once, in order."""
    return tuple(sorted({row["accepted"]["number"] for row in report.get("standing", ()) if row["accepted"]}))
