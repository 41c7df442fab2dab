"""Taking a revision away from machines: a lead's recall, a prove-out whose days are over, an operator going back."""

from __future__ import annotations

import json
from collections.abc import Sequence

from verifier.records.act import Act, acting
from verifier.records.database import Row
from verifier.records.facts import ReleaseFacts, RevisionFacts, StopNotice
from verifier.records.ledger import last_time
from verifier.records.lookup import (
    current_release,
    find_machine,
    last_proven,
    program_named,
    revision_row,
    standing,
    subject_of,
)
from verifier.records.names import check_text
from verifier.records.placing import end_release, order_file, place, retire_replaced, take_away
from verifier.records.shop import Shop
from verifier.records.states import CLEARED, HELD, PROVE_OUT, RECALLED, RELEASED, RETIRED
from verifier.records.telling import release_facts, revision_facts
from verifier.source import ActRefused


def recall(shop: Shop, lead: int, revision: int, reason: str) -> StopNotice:
    """Take a revision back at once, wherever it stands; a lead's act. Gives the machines believed to hold it.

    Its floor copies are ordered away. Putting something else back is an act of its own. ActRefused: wrong_role,
    wrong_state, unknown_revision.
    """
    why = check_text("reason", reason)
    with acting(shop, lead, ("lead",)) as act:
        row = revision_row(act.database, revision)
        reached = row["state"] in (RELEASED, PROVE_OUT, RETIRED)
        if not reached and not (row["state"] in (HELD, CLEARED) and standing(act.database, revision)):
            raise ActRefused("wrong_state", f"revision {row['n']} is {row['state']} and lies at no machine")
        notice = StopNotice(row["program_name"], row["n"], row["sha"], _believed(act, row))
        write_recall(act, row, why)
        subject = subject_of(act.database, row, row["program_name"])
        noted = {"n": row["n"], "sha": row["sha"], "machines": list(notice.machines), "reason": why}
        act.record("recalled", subject, **noted)
        return notice


def write_recall(act: Act, row: Row, why: str) -> None:
    """End every standing release of a revision, order its floor copies away, and mark it recalled."""
    machines = _believed(act, row)
    for release in standing(act.database, row["id"]):
        end_release(act, release, "recalled")
        take_away(act, release, row)
    last = int(act.database.value("SELECT coalesce(max(id),0) FROM release"))
    values = {"revision": row["id"], "person": act.person, "reason": why, "last_release": last}
    act.insert("recall", **values, machines=json.dumps(list(machines)), at_us=act.now)
    act.update("revision", row["id"], state=RECALLED, held_because="[]")


def _believed(act: Act, row: Row) -> tuple[str, ...]:
    """Machines where a release of it stands, or where it is the last that an operator confirmed or read back."""
    found = act.database.rows(
        "SELECT m.name FROM machine m WHERE EXISTS(SELECT 1 FROM release r WHERE r.machine=m.id AND r.revision=?1"
        " AND r.ended_us IS NULL) OR ?1=(SELECT c.revision FROM confirmation c JOIN revision v ON v.id=c.revision"
        " WHERE c.machine=m.id AND v.program=?2 ORDER BY c.id DESC LIMIT 1) OR EXISTS(SELECT 1 FROM readback b"
        " WHERE b.id=(SELECT max(id) FROM readback WHERE machine=m.id AND program=?2) AND b.equal=1 AND b.revision=?1)"
        " ORDER BY m.id",
        row["id"],
        row["program"],
    )
    return tuple(str(one["name"]) for one in found)


def end_overdue(shop: Shop) -> tuple[StopNotice, ...]:
    """Recall every prove-out whose days are over; the service's own act, to be run often."""
    notices: Sequence[StopNotice] = ()
    due = "SELECT revision FROM release WHERE kind='prove-out' AND ended_us IS NULL AND ends_us<=? ORDER BY id"
    if not shop.database.rows(due, max(shop.clock(), last_time(shop.database))):
        return ()
    with acting(shop, None) as act:
        for one in act.database.rows(due, act.now):
            row = revision_row(act.database, one["revision"])
            if row["state"] != PROVE_OUT:
                continue  # proven in time: the file stays until a release replaces it
            machines = _believed(act, row)
            write_recall(act, row, "the days of its prove-out are over")
            subject = subject_of(act.database, row, row["program_name"])
            act.record("prove-out ended", subject, n=row["n"], sha=row["sha"], machines=list(machines))
            notices = (*notices, StopNotice(row["program_name"], row["n"], row["sha"], machines))
    return tuple(notices)


def go_back(
    shop: Shop, person: int, program: str, machine: str, leaving: int | None, reason: str
) -> tuple[RevisionFacts, ReleaseFacts]:
    """Return one machine at once to the revision last proven there; an operator's act, alone, or a lead's.

    `leaving` is the revision that the person sees standing there (None: nothing does), so that the same request made
    twice goes back once. A prove-out that is left in this way is recalled. ActRefused: wrong_role, stale_page,
    nothing_proven, unknown_program ...
    """
    why = check_text("reason", reason)
    with acting(shop, person, ("operator", "lead")) as act:
        facts = find_machine(act.database, machine)
        found, target = program_named(act.database, program, machine)
        left = current_release(act.database, facts.id, found["id"])
        if leaving != (left["revision"] if left is not None else None):
            raise ActRefused("stale_page", f"{facts.name} should not run that revision now", "look at the page again")
        proven = last_proven(act.database, facts.id, found["id"])
        if proven is None:
            raise ActRefused("nothing_proven", f"no earlier revision of {found['name']} was proven at {facts.name}")
        row = revision_row(act.database, proven["revision"])
        before = revision_row(act.database, left["revision"]) if left is not None else None
        if before is not None and before["state"] == PROVE_OUT:
            write_recall(act, before, f"went back at {facts.name}: {why}")
        challenge = [(place_, word) for place_, word in json.loads(proven["challenge"])]
        again = {"origin": proven["origin"], "review": proven["review"]}
        place(act, row, facts.id, "return", why, challenge, **again)
        if row["state"] == RETIRED:
            act.update("revision", row["id"], state=RELEASED)
        retire_replaced(act, found["id"], row["id"])
        subject = f"{found['name']}@{target.name}"
        noted = {"n": row["n"], "sha": row["sha"], "from": before["n"] if before is not None else None}
        act.record("went back", subject, **noted, machine=facts.name, reason=why)
        now = current_release(act.database, facts.id, found["id"])
        if now is None:
            raise AssertionError("going back left nothing at the machine")
        return revision_facts(act.database, row["id"]), release_facts(act.database, now)


def write_again(shop: Shop, lead: int, program: str, machine: str, reason: str) -> ReleaseFacts:
    """Order the file of a standing release to be written once more, where it went missing or was edited; a lead's act.

    An edit that nobody has read back still stops the writing. ActRefused: wrong_role, nothing_stands ...
    """
    why = check_text("reason", reason)
    with acting(shop, lead, ("lead",)) as act:
        facts = find_machine(act.database, machine)
        found, target = program_named(act.database, program, machine)
        standing_now = current_release(act.database, facts.id, found["id"])
        if standing_now is None:
            raise ActRefused("nothing_stands", f"no release of {found['name']} stands at {facts.name}")
        row = revision_row(act.database, standing_now["revision"])
        order_file(act, standing_now, row)
        subject = f"{found['name']}@{target.name}"
        act.record("ordered again", subject, n=row["n"], sha=row["sha"], machine=facts.name, reason=why)
        return release_facts(act.database, standing_now)
