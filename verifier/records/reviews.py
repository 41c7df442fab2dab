"""A review: one set of change reports that a revision stands on, and whether it waits for a lead because of them."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass

from verifier.records.accepting import check_accepted
from verifier.records.act import Act
from verifier.records.database import Database, Row
from verifier.records.facts import MachineFacts, ReportFacts, reports_digest
from verifier.records.lookup import base_at, called_text, rests_on_ended, standing
from verifier.records.states import CLEARED, HELD, NEVER_CLEARED_BY_ITSELF, RELEASED

FIRST = "first submission"
ACCEPTED = "accepted hazards"


@dataclass(frozen=True, slots=True)
class Handing:
    """Why there is a new review: what happened, who handed the revision in (None: nobody), and with which setup sheet."""

    cause: str
    author: int | None
    reason: str
    setup_sha: str | None


def was_before(state: str) -> str:
    """The reason to hold that a revision's own history gives: no new report takes it away."""
    return f"was {state} before"


def profiles_text(machines: Sequence[MachineFacts]) -> str:
    """The machines' profiles as the records hold them, in a fixed order."""
    return json.dumps([[m.name, m.profile_sha] for m in machines])


def policy_sha(database: Database) -> str | None:
    """Digest of the policy in force, or None before the first was set."""
    value = database.value("SELECT sha FROM policy ORDER BY id DESC LIMIT 1")
    return None if value is None else str(value)


def hold_reasons(
    act: Act, program: Row, machines: Sequence[MachineFacts], before: str, facts: Sequence[ReportFacts]
) -> list[str]:
    """Why a lead must look, in the order to be shown; empty when the revision may go without."""
    reasons = [
        f"{FIRST} at {m.name}" if len(machines) > 1 else FIRST
        for m in machines
        if base_at(act.database, m.id, program["id"]) is None
    ]
    if before in NEVER_CLEARED_BY_ITSELF:
        reasons.append(was_before(before))
    for report in facts:
        if report.verdict == "undetermined" and report.base_sha is not None:  # without a base there is no verdict
            reasons.append("undetermined")
        if report.sign_off_required:
            reasons += report.sign_off_reasons or ("sign-off required",)
    return list(dict.fromkeys(reasons))


def write_review(
    act: Act,
    revision: int,
    handing: Handing,
    machines: Sequence[MachineFacts],
    facts: Sequence[ReportFacts],
    reasons: Sequence[str],
) -> None:
    """Write a review with its reports, and set the revision's state by the reasons to hold it."""
    check_accepted(act.database, revision, [number for report in facts for number in report.accepted])
    review = insert_review(act, revision, handing, machines, reports_digest(facts), not reasons)
    for report in facts:
        _write_report(act, review, report)
    state = HELD if reasons else CLEARED
    act.update("revision", revision, review=review, state=state, held_because=json.dumps(list(reasons)))


def insert_review(
    act: Act, revision: int, handing: Handing, machines: Sequence[MachineFacts], digest: str, clear: bool
) -> int:
    """Write a review's row, with the profiles and the policy that the records hold now; gives its id."""
    values = {"revision": revision, "cause": handing.cause, "author": handing.author, "reason": handing.reason}
    around = {"setup_sha": handing.setup_sha, "policy_sha": policy_sha(act.database)}
    return act.insert(
        "review",
        **values,
        **around,
        digest=digest,
        profiles=profiles_text(machines),
        clear=int(clear),
        at_us=act.now,
    )


def changed_around(database: Database, review: Row, machines: Sequence[MachineFacts]) -> list[str]:
    """What the records themselves hold otherwise than when a review was made: no caller's word is needed for it."""
    changed = []
    if review["profiles"] != profiles_text(machines):
        changed.append("machine profile")
    if review["policy_sha"] != policy_sha(database):
        changed.append("policy")
    if rests_on_ended(database, review["id"]):
        changed.append(ACCEPTED)
    return changed


def _write_report(act: Act, review: int, report: ReportFacts) -> None:
    number = act.insert(
        "report",
        review=review,
        digest=report.digest,
        base_sha=report.base_sha,
        verdict=report.verdict,
        sign_off_required=int(report.sign_off_required),
        sign_off_reasons=json.dumps(list(report.sign_off_reasons)),
        has_critical=int(report.has_critical),
        machine_digest=report.machine_digest,
        setup_digest=report.setup_digest,
        policy_digest=report.policy_digest,
        rules_digest=report.rules_digest,
        tool_version=report.tool_version,
        check_code=report.check_code,
        called=called_text(report.called),
        program_number=report.program_number,
        json_sha=act.keep(report.json),
        created_us=act.now,
    )
    if report.proven_sha is not None:
        act.insert("report_proven", report=number, proven_sha=report.proven_sha)
    for acceptance in report.accepted:
        act.insert("report_accepted", report=number, acceptance=acceptance)


def fall_back(act: Act, revision: int, otherwise: str) -> str:
    """The state after a revision's new review came to nothing: `released` if an earlier release of it still stands."""
    return RELEASED if standing(act.database, revision) else otherwise
