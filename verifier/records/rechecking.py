"""A held revision whose report no longer fits what it rests on is put on a new one, so that a lead can decide on it.

The same happens at a release that finds something changed; here it is an act of its own, for a revision that waits.
"""

from __future__ import annotations

import json
from collections.abc import Sequence

from verifier.records.act import Act, acting
from verifier.records.database import Row
from verifier.records.facts import ReportFacts, RevisionFacts, check_reports
from verifier.records.lookup import ground_of, grounds, machines_of, report_rows, revision_row, subject_of, target_of
from verifier.records.releasing import changes
from verifier.records.reviews import Handing, changed_around, hold_reasons, was_before, write_review
from verifier.records.shop import Shop
from verifier.records.states import HELD, NEVER_CLEARED_BY_ITSELF
from verifier.records.telling import revision_facts
from verifier.source import ActRefused

CHECKED_AGAIN = "checked again"


def check_again(shop: Shop, person: int, revision: int, current: Sequence[ReportFacts]) -> RevisionFacts:
    """Put a held revision on reports computed just now; by a programmer or lead, who does not become its author by it.

    It stays held whatever the new reports say, and a decision has to name them. ActRefused: wrong_role, not_held,
    report_fits (nothing has changed), stale_base, stale_proven, unknown_revision.
    """
    facts = check_reports(current)
    with acting(shop, person, ("programmer", "lead")) as act:
        row = revision_row(act.database, revision)
        if row["state"] != HELD:
            raise ActRefused("not_held", f"revision {row['n']} is {row['state']} and waits for no decision")
        changed = changes(act, row, facts)
        if not changed:
            raise ActRefused(
                "report_fits",
                f"nothing that the report on revision {row['n']} rests on has changed: it is the present one",
                "a lead decides on the report as it stands",
            )
        _put_on(act, row, facts, changed)
        result = revision_facts(act.database, revision)
        noted = {"n": row["n"], "sha": row["sha"], "changed": changed, "held_because": list(result.held_because)}
        subject = subject_of(act.database, row, row["program_name"])
        act.record(CHECKED_AGAIN, subject, **noted, before=row["report_digest"], report=result.report_digest)
        return result


def _put_on(act: Act, row: Row, facts: Sequence[ReportFacts], changed: Sequence[str]) -> None:
    """Write the new review: nobody's submission, with the same setup sheet, held."""
    machines = machines_of(act.database, target_of(act.database, row))
    why = f"{CHECKED_AGAIN}, because this changed: {', '.join(changed)}"
    earlier = [was_before(state) for state in NEVER_CLEARED_BY_ITSELF]
    reasons = [why, *(reason for reason in json.loads(row["held_because"]) if reason in earlier)]
    reasons += hold_reasons(act, {"id": row["program"]}, machines, HELD, facts)
    before = act.database.rows("SELECT setup_sha FROM review WHERE id=?", row["review"])[0]
    handing = Handing(CHECKED_AGAIN, None, why, before["setup_sha"])
    write_review(act, row["id"], handing, machines, facts, list(dict.fromkeys(reasons)))


def outdated(shop: Shop, revision: int) -> tuple[str, ...]:
    """What the records know to have changed since a revision's reports were made, without computing them again.

    Rules and called programs may have changed besides. Empty where it has no reports.
    """
    database = shop.database
    with database.read():
        row = revision_row(database, revision)
        stored = report_rows(database, row["review"])
        if not stored:
            return ()
        machines = machines_of(database, target_of(database, row))
        now, then = grounds(database, row["program"], machines, row["sha"]), {ground_of(one) for one in stored}
        names = []
        if {one.base_sha for one in now} != {one.base_sha for one in then}:
            names.append("base")
        elif {*now} != then:
            names.append("proven revision")
        review = database.rows("SELECT * FROM review WHERE id=?", row["review"])[0]
        return (*names, *changed_around(database, review, machines))
