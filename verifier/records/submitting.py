"""The author's acts: hand in a program with its change report, or take it back before it is released."""

from __future__ import annotations

from collections.abc import Sequence
from hashlib import sha256

from verifier.records.act import Act, acting
from verifier.records.database import Row
from verifier.records.facts import ReportFacts, RevisionFacts, check_reports
from verifier.records.lookup import (
    Target,
    authors_of,
    called_text,
    check_grounds,
    find_program,
    find_target,
    machines_of,
    program_on_machine,
    report_rows,
    revision_row,
    standing,
    subject_of,
    target_of,
    was_released,
)
from verifier.records.names import check_program_name, check_text, fold_program_name
from verifier.records.reviews import (
    Handing,
    changed_around,
    fall_back,
    hold_reasons,
    insert_review,
    write_review,
)
from verifier.records.shop import Shop
from verifier.records.states import CLEARED, HELD, PROVE_OUT, RELEASED, RETIRED, SUBMITTED, WITHDRAWN
from verifier.records.telling import revision_facts
from verifier.source import SIZE_LIMIT, ActRefused


def submit(
    shop: Shop,
    author: int,
    program: str,
    target: str,
    body: bytes,
    reason: str,
    reports: Sequence[ReportFacts] = (),
    *,
    setup: bytes | None = None,
) -> RevisionFacts:
    """Hand in a program for a machine or a group of equal machines.

    `reports` holds one report for each different ground (`grounds` names them); with none the revision stays
    `submitted` until `report_on` brings them. `setup` is the setup sheet that goes with the program, kept with it.
    Known bytes reopen their revision. The result says `held` or `cleared`.
    ActRefused: bad_name, reason_missing, unknown_machine, number_held, stale_base, stale_proven, already_released, in_prove_out ...
    """
    check_program_name(program)
    why = check_text("reason", reason)
    if not body:
        raise ActRefused("empty", "the program is empty")
    if len(body) > SIZE_LIMIT:
        raise ActRefused("too_large", f"the program has {len(body)} bytes, the most is {SIZE_LIMIT}")
    facts = check_reports(reports) if reports else ()
    with acting(shop, author) as act:
        aim = find_target(act.database, target)
        _may_submit(act, body)
        row = find_program(act.database, program, aim) or _new_program(act, program, aim)
        revision, before = _revision_of(act, row, body, facts)
        cause = "submitted" if before == SUBMITTED else "submitted again"
        handing = Handing(cause, author, why, act.keep(setup) if setup else None)
        if facts:
            _review(act, row, revision, before, handing, facts)
        else:
            _await_reports(act, row, revision, handing)
        result = revision_facts(act.database, revision)
        name = subject_of(act.database, row)
        noted = {"n": result.n, "sha": result.sha, "state": result.state, "held_because": list(result.held_because)}
        act.record("submitted", name, **noted, reason=why, report=result.report_digest)
        return result


def report_on(shop: Shop, revision: int, reports: Sequence[ReportFacts]) -> RevisionFacts:
    """Bring the change reports of a revision that was submitted without; it becomes `held` or `cleared`."""
    facts = check_reports(reports)
    with acting(shop, None) as act:
        row = revision_row(act.database, revision)
        if row["state"] != SUBMITTED:
            raise ActRefused("not_waiting", f"revision {row['n']} is {row['state']} and waits for no report")
        program = act.database.rows("SELECT * FROM program WHERE id=?", row["program"])[0]
        _check_grounds(act, program, row["sha"], facts)
        last = act.database.rows("SELECT * FROM review WHERE id=?", row["review"])[0]
        handing = Handing(last["cause"], last["author"], last["reason"], last["setup_sha"])
        _review(act, program, revision, SUBMITTED, handing, facts)
        result = revision_facts(act.database, revision)
        noted = {"n": result.n, "state": result.state, "held_because": list(result.held_because)}
        act.record("reported", subject_of(act.database, program), **noted, report=result.report_digest)
        return result


def _may_submit(act: Act, body: bytes) -> None:
    """A programmer or lead hands in anything; an operator only what a control sent back, so that no edit is lost."""
    if {"programmer", "lead"} & set(act.roles):
        return
    known = act.database.value("SELECT 1 FROM readback WHERE sha=? LIMIT 1", sha256(body).hexdigest())
    if "operator" not in act.roles or known is None:
        raise ActRefused("wrong_role", "this is for a programmer or a lead", "an operator may submit a read-back")


def _new_program(act: Act, name: str, aim: Target) -> Row:
    folded = fold_program_name(name)
    for machine in machines_of(act.database, aim):
        other = program_on_machine(act.database, folded, machine.id)
        if other is not None:
            raise ActRefused(
                "number_held",
                f"{machine.name} already holds {other['name']} for {target_of(act.database, other).name}",
                "submit it as a revision of that one, or give it another name",
            )
    values = {"name": name, "folded": folded, "machine": aim.machine, "folded_group": aim.folded_group}
    number = act.insert("program", **values, created_us=act.now)
    return act.database.rows("SELECT * FROM program WHERE id=?", number)[0]


def _revision_of(act: Act, program: Row, body: bytes, facts: Sequence[ReportFacts]) -> tuple[int, str]:
    """The revision of these bytes, new or reopened, with the state that it was in."""
    sha = sha256(body).hexdigest()
    if facts:
        _check_grounds(act, program, sha, facts)
    known = act.database.row("SELECT * FROM revision WHERE program=? AND sha=?", program["id"], sha)
    if known is None:
        last = act.database.value("SELECT max(n) FROM revision WHERE program=?", program["id"]) or 0
        values = {"program": program["id"], "n": int(last) + 1, "sha": act.keep(body), "state": SUBMITTED}
        return act.insert("revision", **values, held_because="[]", created_us=act.now), SUBMITTED
    if not facts and known["state"] != SUBMITTED:
        raise ActRefused("known_bytes", "these bytes are a known revision", "submit them with their change report")
    if known["state"] == PROVE_OUT:
        raise ActRefused("in_prove_out", "these bytes are at a machine for prove-out", "confirm or recall it first")
    if known["state"] == RELEASED and _nothing_new(act, known, program, facts):
        raise ActRefused("already_released", "these bytes are what is released there now, and nothing else changed")
    return int(known["id"]), str(known["state"])


def _check_grounds(act: Act, program: Row, sha: str, facts: Sequence[ReportFacts]) -> None:
    machines = machines_of(act.database, target_of(act.database, program))
    found = [one.ground for one in facts]
    check_grounds(act.database, program["id"], machines, sha, found, "compare with what is there now and submit again")


def _nothing_new(act: Act, revision: Row, program: Row, facts: Sequence[ReportFacts]) -> bool:
    """Whether a released revision stands everywhere already and nothing that its sign-off is bound to has changed."""
    machines = machines_of(act.database, target_of(act.database, program))
    here = {row["machine"] for row in standing(act.database, revision["id"])}
    if {m.id for m in machines} - here:
        return False
    review = act.database.rows("SELECT * FROM review WHERE id=?", revision["review"])[0]
    if changed_around(act.database, review, machines):
        return False
    columns = ("machine_digest", "setup_digest", "policy_digest", "rules_digest", "tool_version")
    old = report_rows(act.database, revision["review"])
    before = {(*(row[c] for c in columns), row["called"]) for row in old}
    after = {(*(getattr(f, c) for c in columns), called_text(f.called)) for f in facts}
    return before == after


def _await_reports(act: Act, program: Row, revision: int, handing: Handing) -> None:
    machines = machines_of(act.database, target_of(act.database, program))
    nothing = sha256(b"").hexdigest()
    act.update("revision", revision, review=insert_review(act, revision, handing, machines, nothing, False))


def _review(act: Act, program: Row, revision: int, before: str, handing: Handing, facts: Sequence[ReportFacts]) -> None:
    """Put a revision on new reports, and hold or clear it by them."""
    machines = machines_of(act.database, target_of(act.database, program))
    reasons = hold_reasons(act, program, machines, before, facts)
    write_review(act, revision, handing, machines, facts, reasons)


def withdraw(shop: Shop, author: int, revision: int, reason: str) -> RevisionFacts:
    """Take back a revision that is not released; by one of those who handed it in. ActRefused otherwise."""
    why = check_text("reason", reason)
    with acting(shop, author) as act:
        row = revision_row(act.database, revision)
        if author not in authors_of(act.database, revision):
            raise ActRefused("not_the_author", "only its author withdraws a revision", "a lead may turn it back")
        if row["state"] not in (SUBMITTED, HELD, CLEARED):
            raise ActRefused("wrong_state", f"revision {row['n']} is {row['state']} and cannot be withdrawn")
        if any(one["kind"] == "prove-out" for one in standing(act.database, revision)):
            raise ActRefused("at_machine", "it lies at a machine from its prove-out", "a lead may recall it")
        nowhere = RETIRED if was_released(act.database, revision) else WITHDRAWN
        act.update("revision", revision, state=fall_back(act, revision, nowhere), held_because="[]")
        act.record("withdrawn", subject_of(act.database, row, row["program_name"]), n=row["n"], reason=why)
        return revision_facts(act.database, revision)
