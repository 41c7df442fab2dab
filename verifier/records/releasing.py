"""Release: a cleared revision becomes the one that its machines should run, if everything it was signed on still holds.

The procedure, each step refused by itself: 1 the person may; 2 the revision is cleared; 3 nothing newer is released;
4 nothing that the sign-off is bound to has changed (else it is held again); 5 no prove-out is in the way; 6 what it
calls, and what calls it, goes with it by the same digests; 7 the release, its jobs and the ledger entry are written.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from verifier.records.act import Act, acting
from verifier.records.database import Row
from verifier.records.facts import BOUND, ReleaseFacts, ReportFacts, check_reports
from verifier.records.lookup import (
    accepted_text,
    authors_of,
    base_at,
    called_text,
    check_grounds,
    current_release,
    ground_of,
    machines_of,
    program_on_machine,
    report_rows,
    revision_row,
    subject_of,
    target_of,
)
from verifier.records.names import check_text, fold_program_name
from verifier.records.placing import check_no_prove_out, place, retire_replaced
from verifier.records.reviews import Handing, changed_around, write_review
from verifier.records.shop import Shop
from verifier.records.states import CLEARED, RELEASED
from verifier.records.telling import release_facts
from verifier.source import ActRefused


@dataclass(frozen=True, slots=True)
class Releasing:
    """One revision to be released, with its reports computed just now and the two words to be read from the control.

    `challenge` holds (place, word) pairs out of changed blocks: two, or none where a read-back is wanted instead.
    """

    revision: int
    current: tuple[ReportFacts, ...]
    challenge: tuple[tuple[str, str], ...] = ()


def release(
    shop: Shop,
    person: int,
    revision: int,
    reason: str,
    current: Sequence[ReportFacts],
    challenge: Sequence[tuple[str, str]] = (),
) -> tuple[ReleaseFacts, ...]:
    """Release one cleared revision to its machine, or to each machine of its group; see `release_together`."""
    return release_together(shop, person, [Releasing(revision, tuple(current), tuple(challenge))], reason)


def release_together(shop: Shop, person: int, items: Sequence[Releasing], reason: str) -> tuple[ReleaseFacts, ...]:
    """Release several cleared revisions at once or none: the programs of two channels, a program and what it calls.

    By an author of each, or a lead. ActRefused: wrong_role, not_cleared, older_revision, changed_since (the revision
    is then held again), stale_base, stale_proven, prove_out_running, called_not_released, callers_bind_another, number_held ...
    """
    why = check_text("reason", reason)
    checked = [(item, check_reports(item.current)) for item in items]
    if not items or len({item.revision for item in items}) != len(items):
        raise ActRefused("nothing", "name each revision to be released once")
    with acting(shop, person, ("programmer", "lead")) as act:
        rows = {item.revision: revision_row(act.database, item.revision) for item in items}
        for item, current in checked:
            _check_may(act, rows[item.revision])
            changed = changes(act, rows[item.revision], current)
            if changed:
                _hold_again(act, rows[item.revision], current, changed)
                return ()
        going = {row["program"]: row for row in rows.values()}
        for row in rows.values():
            _check_surroundings(act, row, going)
        made: list[Row] = []
        for item in items:
            made += _place(act, rows[item.revision], item, why)
        return tuple(release_facts(act.database, row) for row in made)


def _check_may(act: Act, row: Row) -> None:
    """Steps 1 to 3."""
    if "lead" not in act.roles and act.person not in authors_of(act.database, row["id"]):
        raise ActRefused("wrong_role", "a revision is released by its author or a lead")
    if row["state"] != CLEARED:
        hint = "a lead has to sign it off first" if row["state"] == "held" else ""
        raise ActRefused("not_cleared", f"revision {row['n']} is {row['state']}, not cleared", hint)
    machines = machines_of(act.database, target_of(act.database, row))
    for machine in machines:
        base = base_at(act.database, machine.id, row["program"])
        seen = [report["base_sha"] for report in report_rows(act.database, row["review"])]
        if base is not None and base["n"] > row["n"] and base["sha"] not in seen:
            raise ActRefused(
                "older_revision",
                f"revision {base['n']} has been released to {machine.name} since",
                "to return to this one, submit it again, compared with that",
            )


def changes(act: Act, row: Row, current: Sequence[ReportFacts]) -> list[str]:
    """Step 4: the names of what differs from the reports that a revision stands on, in a fixed order.

    ActRefused `stale_base` or `stale_proven` where `current` is not about what its machines hold and have proven now.
    """
    machines = machines_of(act.database, target_of(act.database, row))
    found = [one.ground for one in current]
    check_grounds(act.database, row["program"], machines, row["sha"], found, "compute the reports again")
    before = report_rows(act.database, row["review"])
    old: Mapping[object, Row] = {ground_of(report): report for report in before}
    if {report.base_sha for report in current} != {report["base_sha"] for report in before}:
        return ["base"]
    if {report.ground for report in current} != {*old}:
        return ["proven revision"]
    review = act.database.rows("SELECT * FROM review WHERE id=?", row["review"])[0]
    names = dict.fromkeys(changed_around(act.database, review, machines))
    for report in current:
        for word, column in BOUND:
            if _bound(report, column) != old[report.ground][column]:
                names[word] = None
    return list(names)


def _bound(report: ReportFacts, column: str) -> object:
    """What a report is bound to, as its row has it."""
    told = {"called": called_text(report.called), "accepted": accepted_text(report.accepted)}
    return told[column] if column in told else getattr(report, column)


def _hold_again(act: Act, row: Row, current: Sequence[ReportFacts], changed: Sequence[str]) -> None:
    """Put the revision on its new reports, held; the refusal is raised once that is written."""
    names = ", ".join(changed)
    reasons = [f"since it was cleared, something changed: {names}"]
    for report in current:
        reasons += report.sign_off_reasons if report.sign_off_required else ()
    why = f"checked again at release: {names}"
    before = act.database.rows("SELECT setup_sha FROM review WHERE id=?", row["review"])[0]
    handing = Handing("checked again", None, why, before["setup_sha"])
    machines = machines_of(act.database, target_of(act.database, row))
    write_review(act, row["id"], handing, machines, current, list(dict.fromkeys(reasons)))
    act.record("held again", subject_of(act.database, row, row["program_name"]), n=row["n"], changed=list(changed))
    act.refusal = ActRefused(
        "changed_since",
        f"revision {row['n']} is held again, because this changed since it was cleared: {names}",
        "a lead has to look at the new report",
    )


def _check_surroundings(act: Act, row: Row, going: Mapping[int, Row]) -> None:
    """Steps 5 and 6, at each machine."""
    for machine in machines_of(act.database, target_of(act.database, row)):
        check_no_prove_out(act, machine.id, row["program"], row["id"])
        for name, sha in _called(act, row["review"]):
            if sha != row["sha"] and _sha_after(act, machine.id, name, going) != sha:
                raise ActRefused(
                    "called_not_released",
                    f"it calls {name}, and {machine.name} would not hold the content that was looked at",
                    "release the two together",
                )
        _check_callers(act, row, machine.id, machine.name, going)


def _called(act: Act, review: int) -> list[tuple[str, str]]:
    pairs: dict[tuple[str, str], None] = {}
    for report in report_rows(act.database, review):
        for name, sha in json.loads(report["called"]):
            pairs[(name, sha)] = None
    return list(pairs)


def _sha_after(act: Act, machine: int, name: str, going: Mapping[int, Row]) -> str | None:
    """What the machine will hold under a called program's name once this act is done."""
    program = program_on_machine(act.database, fold_program_name(name), machine)
    if program is None:
        return None
    if program["id"] in going:
        return str(going[program["id"]]["sha"])
    value = act.database.value(
        "SELECT v.sha FROM release r JOIN revision v ON v.id=r.revision"
        " WHERE r.machine=? AND r.program=? AND r.ended_us IS NULL",
        machine,
        program["id"],
    )
    return None if value is None else str(value)


def _check_callers(act: Act, row: Row, machine: int, name: str, going: Mapping[int, Row]) -> None:
    """No program that stays at the machine may be left calling other content than it was signed off with."""
    others = act.database.rows(
        "SELECT r.review, r.program, p.name FROM release r JOIN program p ON p.id=r.program"
        " WHERE r.machine=? AND r.program<>? AND r.ended_us IS NULL ORDER BY r.id",
        machine,
        row["program"],
    )
    for other in others:
        if other["program"] in going:
            continue
        for called, sha in _called(act, other["review"]):
            if fold_program_name(called) == row["folded"] and sha != row["sha"]:
                raise ActRefused(
                    "callers_bind_another",
                    f"{other['name']} at {name} calls it and was signed off with other content",
                    f"submit {other['name']} again with {row['program_name']} beside it, and release the two together",
                )


def _place(act: Act, row: Row, item: Releasing, why: str) -> list[Row]:
    """Step 7 for one revision."""
    machines = machines_of(act.database, target_of(act.database, row))
    act.update("revision", row["id"], state=RELEASED, held_because="[]")
    for machine in machines:
        place(act, row, machine.id, "full", why, item.challenge)
    retire_replaced(act, row["program"], row["id"])
    names = [machine.name for machine in machines]
    noted = {"n": row["n"], "sha": row["sha"], "machines": names, "reason": why, "report": row["report_digest"]}
    act.record("released", subject_of(act.database, row, row["program_name"]), **noted)
    rows = [current_release(act.database, machine.id, row["program"]) for machine in machines]
    return [one for one in rows if one is not None]
