"""A review: one set of change reports that a revision stands on, and whether it waits for a lead because of them."""

from __future__ import annotations

import json
from collections.abc import Sequence

from verifier.records.act import Act
from verifier.records.database import Row
from verifier.records.facts import MachineFacts, ReportFacts, reports_digest
from verifier.records.lookup import base_at, called_text, standing
from verifier.records.states import CLEARED, HELD, NEVER_CLEARED_BY_ITSELF, RELEASED

FIRST = "first submission"


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
        reasons.append(f"was {before} before")
    for report in facts:
        if report.verdict == "undetermined":
            reasons.append("undetermined")
        if report.sign_off_required:
            reasons += report.sign_off_reasons or ("sign-off required",)
    return list(dict.fromkeys(reasons))


def write_review(
    act: Act,
    revision: int,
    cause: str,
    author: int | None,
    why: str,
    facts: Sequence[ReportFacts],
    reasons: Sequence[str],
) -> None:
    """Write a review with its reports, and set the revision's state by the reasons to hold it."""
    values = {"revision": revision, "cause": cause, "author": author, "reason": why, "digest": reports_digest(facts)}
    review = act.insert("review", **values, clear=int(not reasons), at_us=act.now)
    for report in facts:
        _write_report(act, review, report)
    state = HELD if reasons else CLEARED
    act.update("revision", revision, review=review, state=state, held_because=json.dumps(list(reasons)))


def _write_report(act: Act, review: int, report: ReportFacts) -> None:
    act.insert(
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


def fall_back(act: Act, revision: int, otherwise: str) -> str:
    """The state after a revision's new review came to nothing: `released` if an earlier release of it still stands."""
    return RELEASED if standing(act.database, revision) else otherwise
