"""The lead's decision on one held revision, bound to the report that was seen and to all that it rests on."""

from __future__ import annotations

import json
from collections.abc import Sequence

from verifier.records.act import Act, acting
from verifier.records.database import Database, Row
from verifier.records.facts import BOUND, RevisionFacts
from verifier.records.ledger import canonical
from verifier.records.lookup import (
    authors_of,
    check_grounds,
    find_machine,
    ground_of,
    machines_of,
    report_facts,
    report_rows,
    rests_on_ended,
    revision_row,
    subject_of,
    target_of,
)
from verifier.records.names import check_text
from verifier.records.placing import check_no_prove_out, place
from verifier.records.reviews import fall_back
from verifier.records.shop import Shop
from verifier.records.states import CLEARED, HELD, PROVE_OUT, TURNED_BACK
from verifier.records.telling import revision_facts
from verifier.report import ToBeSeen, to_be_seen
from verifier.source import ActRefused

APPROVE = "approve"
TURN_BACK = "turn back"
TO_MACHINE = (APPROVE, PROVE_OUT)
VERDICTS = (*TO_MACHINE, TURN_BACK)
MOST_DAYS = 30
DAY_US = 86_400_000_000
_TOLD = 20

_ACTS = {APPROVE: "approved", PROVE_OUT: "let out for prove-out", TURN_BACK: "turned back"}
_MEANINGS = {
    APPROVE: "I have read this change report and clear the revision for release",
    PROVE_OUT: "I have read this change report and let the revision out for prove-out at this machine only",
    TURN_BACK: "I have read this change report and turn the revision back",
}


def decide(
    shop: Shop,
    lead: int,
    revision: int,
    verdict: str,
    reason: str,
    report_digest_seen: str,
    *,
    reauthenticated: bool,
    ticked: Sequence[str] = (),
    machine: str | None = None,
    days: int | None = None,
    challenge: tuple[tuple[str, str], ...] = (),
) -> RevisionFacts:
    """Decide on a held revision: `approve`, `prove-out` (one machine, 1 to 30 days) or `turn back`.

    `report_digest_seen` is the `report_digest` of the page that the lead read; `reauthenticated` says that the lead
    has just proved again who they are; `ticked` names the new critical findings that they have read (see
    `wanted_ticks`), all of them where the revision may then go to a machine. ActRefused: wrong_role, sign_in_again,
    own_revision, not_held, already_decided, stale_report, stale_base, stale_proven, not_ticked, unknown_finding, bad_verdict ...
    """
    why = check_text("reason", reason)
    if verdict not in VERDICTS:
        raise ActRefused("bad_verdict", f"{verdict!r} is not a decision", "one of: " + ", ".join(VERDICTS))
    with acting(shop, lead, ("lead",)) as act:
        if not reauthenticated:
            raise ActRefused("sign_in_again", "a sign-off asks again for your PIN or password")
        row = revision_row(act.database, revision)
        _check_open(act, row, lead, report_digest_seen)
        read = _check_ticked(act, row, verdict, ticked)
        where = _check_prove_out(act, row, verdict, machine, days)
        values = {"revision": revision, "review": row["review"], "verdict": verdict, "lead": lead, "reason": why}
        signed = {"full_name": act.full_name, "meaning": _MEANINGS[verdict], "bound": bound_text(act, row)}
        limits = {"machine": where, "days": days if where is not None else None}
        act.insert("decision", **values, **signed, **limits, digest_seen=report_digest_seen, at_us=act.now)
        _move(act, row, verdict, why, where, days, challenge)
        noted = {"n": row["n"], "sha": row["sha"], "reason": why, "report": report_digest_seen, "machine": machine}
        subject = subject_of(act.database, row, row["program_name"])
        noted |= {"critical_read": read} if read else {}
        act.record(_ACTS[verdict], subject, **noted, signed_by=act.full_name, meaning=_MEANINGS[verdict])
        return revision_facts(act.database, revision)


def _check_open(act: Act, row: Row, lead: int, seen: str) -> None:
    """Refuse a decision that is not the present lead's to make on what was seen."""
    if lead in authors_of(act.database, row["id"]):
        raise ActRefused("own_revision", "nobody signs off their own revision", "another lead has to decide")
    if act.database.value("SELECT 1 FROM decision WHERE review=?", row["review"]):
        raise ActRefused("already_decided", f"revision {row['n']} has been decided on: it is {row['state']}")
    if row["state"] != HELD:
        raise ActRefused("not_held", f"revision {row['n']} is {row['state']} and waits for no decision")
    if seen != row["report_digest"]:
        raise ActRefused("stale_report", "the report that you read is not the present one", "read it again")
    machines = machines_of(act.database, target_of(act.database, row))
    found = [ground_of(report) for report in report_rows(act.database, row["review"])]
    hint = "have it checked again, compared with that one"
    check_grounds(act.database, row["program"], machines, row["sha"], found, hint)
    if rests_on_ended(act.database, row["review"]):
        said = "an acceptance that this report rests on has been withdrawn since: it tells too little"
        raise ActRefused("stale_accepted", said, "have it checked again")


def critical_of(database: Database, review: int | None) -> tuple[ToBeSeen, ...]:
    """The new critical findings of the reports of a review; one that several reports have alike counts once."""
    found = {
        one.name: one
        for report in report_rows(database, review)
        for one in to_be_seen(json.loads(report_facts(database, report).json))
    }
    return tuple(found.values())


def wanted_ticks(shop: Shop, revision: int) -> tuple[ToBeSeen, ...]:
    """The new critical findings that a lead has to name as read before a revision may go to a machine."""
    with shop.database.read():
        return critical_of(shop.database, revision_row(shop.database, revision)["review"])


def _check_ticked(act: Act, row: Row, verdict: str, ticked: Sequence[str]) -> list[str]:
    """What was ticked, for the ledger; refused where one is missing that the verdict needs, or is none of this report."""
    wanted = critical_of(act.database, row["review"])
    strange = sorted(set(ticked) - {one.name for one in wanted})
    if strange:
        raise ActRefused("unknown_finding", f"{strange[0][:64]!r} is no new critical finding of this report")
    missing = [one for one in wanted if one.name not in ticked]
    if missing and verdict in TO_MACHINE:
        told = "; ".join(one.told() for one in missing[:_TOLD]) + (" ..." if len(missing) > _TOLD else "")
        raise ActRefused(
            "not_ticked",
            f"{len(missing)} new critical finding{'s are' if len(missing) > 1 else ' is'} not ticked",
            f"read each of them and tick it by its name, or turn the revision back: {told}",
        )
    return [f"{one.rule} {one.name}" for one in wanted if one.name in ticked]


def _check_prove_out(act: Act, row: Row, verdict: str, machine: str | None, days: int | None) -> int | None:
    """The machine of a prove-out, or None for the other decisions."""
    if verdict != PROVE_OUT:
        return None
    if machine is None or type(days) is not int or not 1 <= days <= MOST_DAYS:
        raise ActRefused("bad_prove_out", f"a prove-out is at one machine, for 1 to {MOST_DAYS} days")
    facts = find_machine(act.database, machine)
    if facts.id not in [m.id for m in machines_of(act.database, target_of(act.database, row))]:
        raise ActRefused("bad_prove_out", f"{facts.name} is not a machine of this program")
    check_no_prove_out(act, facts.id, row["program"], row["id"])
    return facts.id


def _move(
    act: Act,
    row: Row,
    verdict: str,
    why: str,
    where: int | None,
    days: int | None,
    challenge: tuple[tuple[str, str], ...],
) -> None:
    if verdict == APPROVE:
        act.update("revision", row["id"], state=CLEARED, held_because="[]")
    elif verdict == TURN_BACK:
        act.update("revision", row["id"], state=fall_back(act, row["id"], TURNED_BACK), held_because="[]")
    elif where is not None and days is not None:
        act.update("revision", row["id"], state=PROVE_OUT, held_because="[]")
        place(act, row, where, PROVE_OUT, why, challenge, ends_us=act.now + days * DAY_US)


def bound_text(act: Act, row: Row) -> str:
    """Everything that a sign-off is bound to, as canonical JSON: one object for each report."""
    bound = [
        {**{word: report[column] for word, column in BOUND}, "revision": row["sha"]}
        for report in report_rows(act.database, row["review"])
    ]
    return canonical(bound).decode("utf-8")
