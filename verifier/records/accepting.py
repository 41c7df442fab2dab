"""A lead's acceptance of one hazard that stood before, and its withdrawal.

An acceptance belongs to one program at its machine or group, and is bound to the key that the report has for the hazard: as soon as anything
behind the key is another, it counts for nothing, without an act. Reports that were made with it rest on it; when it is withdrawn, they are
out of date.
"""

from __future__ import annotations

import json
from collections.abc import Iterable

from verifier.records.act import Act, acting
from verifier.records.database import Database, Row
from verifier.records.facts import AcceptanceFacts
from verifier.records.lookup import (
    authors_of,
    program_named,
    report_facts,
    report_rows,
    revision_row,
    subject_of,
    target_of,
)
from verifier.records.names import check_text
from verifier.records.shop import Shop
from verifier.records.states import CLEARED, HELD, PROVE_OUT, RELEASED
from verifier.report import Acceptable, acceptable
from verifier.source import ActRefused

OPEN_TO_ACCEPT = (HELD, CLEARED, PROVE_OUT, RELEASED)
"""States of a revision on whose report a hazard may be accepted: what is gone or turned back is nobody's to accept."""
MEANING = "I have looked at this hazard where it stands, and accept it for as long as its words and all that it says stay as they are"


def accept(
    shop: Shop, lead: int, revision: int, key: str, reason: str, report_digest_seen: str, *, reauthenticated: bool
) -> AcceptanceFacts:
    """Accept one standing hazard of a program, as the report on a revision tells it; a lead's act.

    `key` names the hazard in the report, `report_digest_seen` is the revision's `report_digest` as it was looked at, `reauthenticated` says that
    the lead has just proved again who they are. ActRefused: wrong_role, sign_in_again, own_revision, wrong_state, stale_report,
    unknown_hazard, already_accepted, reason_missing ...
    """
    why = check_text("reason", reason)
    with acting(shop, lead, ("lead",)) as act:
        if not reauthenticated:
            raise ActRefused("sign_in_again", "an acceptance asks again for your PIN or password")
        row = revision_row(act.database, revision)
        hazard = _check_open(act, row, lead, key, report_digest_seen)
        said = {"rule": hazard.rule, "rule_revision": hazard.revision, "weight": hazard.weight, "title": hazard.title}
        where = {"program": row["program"], "revision": revision, "review": row["review"], "key": key}
        signed = {"lead": lead, "full_name": act.full_name, "meaning": MEANING, "reason": why}
        words = json.dumps(list(hazard.words))
        number = act.insert("acceptance", **where, **said, **signed, words=words, at_us=act.now)
        noted = {"n": row["n"], "sha": row["sha"], "key": key, "report": report_digest_seen, "reason": why}
        noted |= {**said, "words": list(hazard.words), "acceptance": number}
        subject = subject_of(act.database, row, row["program_name"])
        act.record("hazard accepted", subject, **noted, signed_by=act.full_name, meaning=MEANING)
        return _facts(act.database, number)


def _check_open(act: Act, row: Row, lead: int, key: str, seen: str) -> Acceptable:
    """The hazard of that key in the report that was seen; refused where it is not the present lead's to accept."""
    if lead in authors_of(act.database, row["id"]):
        raise ActRefused("own_revision", "nobody accepts a hazard of their own revision", "another lead has to")
    if row["state"] not in OPEN_TO_ACCEPT:
        raise ActRefused("wrong_state", f"revision {row['n']} is {row['state']}: nothing of it is accepted")
    if seen != row["report_digest"]:
        raise ActRefused("stale_report", "the report that you read is not the present one", "read it again")
    found = {one.key: one for report in report_rows(act.database, row["review"]) for one in _in(act.database, report)}
    if key not in found:
        raise ActRefused(
            "unknown_hazard",
            f"{key[:64]!r} is no hazard of this report that could be accepted",
            "only one that stood before, is understood, and is not touched by an edit of the revision",
        )
    if holding(act.database, row["program"], key):
        raise ActRefused("already_accepted", "this hazard is accepted already")
    return found[key]


def _in(database: Database, report: Row) -> tuple[Acceptable, ...]:
    return acceptable(json.loads(report_facts(database, report).json))


def withdraw_acceptance(shop: Shop, lead: int, number: int, reason: str, *, reauthenticated: bool) -> AcceptanceFacts:
    """Withdraw an acceptance; any lead's act. The hazard is told in full again, and reports that rest on it are out of date.

    ActRefused: wrong_role, sign_in_again, unknown_acceptance, already_withdrawn, reason_missing.
    """
    why = check_text("reason", reason)
    with acting(shop, lead, ("lead",)) as act:
        if not reauthenticated:
            raise ActRefused("sign_in_again", "withdrawing an acceptance asks again for your PIN or password")
        found = _facts(act.database, number)
        if found.ended_us is not None:
            raise ActRefused("already_withdrawn", f"acceptance {number} has been withdrawn already")
        act.insert("acceptance_end", acceptance=number, lead=lead, full_name=act.full_name, reason=why, at_us=act.now)
        noted = {"acceptance": number, "key": found.key, "rule": found.rule, "title": found.title, "reason": why}
        act.record("acceptance withdrawn", f"{found.program}@{found.target}", **noted, signed_by=act.full_name)
        return _facts(act.database, number)


def acceptance(shop: Shop, number: int) -> AcceptanceFacts:
    """One acceptance by its number; ActRefused `unknown_acceptance`."""
    with shop.database.read():
        return _facts(shop.database, number)


def acceptances(shop: Shop, program: str, target: str) -> tuple[AcceptanceFacts, ...]:
    """Every acceptance of a program, oldest first; those that were withdrawn have `ended_us`."""
    database = shop.database
    with database.read():
        row, _ = program_named(database, program, target)
        found = database.rows("SELECT id FROM acceptance WHERE program=? ORDER BY id", row["id"])
        return tuple(_facts(database, one["id"]) for one in found)


def holding(database: Database, program: int, key: str) -> bool:
    """Whether an acceptance of that hazard of the program holds."""
    found = database.value(
        "SELECT 1 FROM acceptance a WHERE a.program=? AND a.key=?"
        " AND NOT EXISTS(SELECT 1 FROM acceptance_end e WHERE e.acceptance=a.id)",
        program,
        key,
    )
    return found is not None


def check_accepted(database: Database, revision: int, numbers: Iterable[int]) -> None:
    """Refuse reports on a revision that rest on an acceptance which does not hold for its program: `stale_accepted`."""
    for number in numbers:
        found = database.value(
            "SELECT 1 FROM acceptance a JOIN revision r ON r.program=a.program WHERE a.id=? AND r.id=?"
            " AND NOT EXISTS(SELECT 1 FROM acceptance_end e WHERE e.acceptance=a.id)",
            number,
            revision,
        )
        if found is None:
            raise ActRefused(
                "stale_accepted",
                "an acceptance that the report rests on does not hold any more",
                "have the report computed again",
            )


def _facts(database: Database, number: int) -> AcceptanceFacts:
    row = database.row(
        "SELECT a.*, e.at_us AS ended_us, e.full_name AS ended_by, e.reason AS ended_reason FROM acceptance a"
        " LEFT JOIN acceptance_end e ON e.acceptance=a.id WHERE a.id=?",
        number,
    )
    if row is None:
        raise ActRefused("unknown_acceptance", "there is no such acceptance")
    about = revision_row(database, row["revision"])
    return AcceptanceFacts(
        row["id"],
        about["program_name"],
        target_of(database, about).name,
        row["revision"],
        about["n"],
        row["key"],
        row["rule"],
        row["rule_revision"],
        row["weight"],
        row["title"],
        tuple(json.loads(row["words"])),
        row["full_name"],
        row["reason"],
        row["at_us"],
        row["ended_us"],
        row["ended_by"],
        row["ended_reason"],
    )
