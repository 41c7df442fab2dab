"""The lead's decision: whose it is, on what, and when it no longer counts."""

from __future__ import annotations

import json
import os
import sqlite3

import pytest
from shops import CRITICAL, FINDINGS, TICKS, TestShop, at_machine, digest, publish, report, submit

from verifier import records
from verifier.records.database import DriverError
from verifier.source import ActRefused, StoreError


def refused(code: str) -> pytest.RaisesExc[ActRefused]:
    return pytest.raises(ActRefused, check=lambda error: error.code == code)


def decide(t: TestShop, lead: int, revision: records.RevisionFacts, verdict: str = "approve", **more: object) -> object:
    seen = str(more.pop("seen", revision.report_digest))
    again = bool(more.pop("reauthenticated", True))
    reason = str(more.pop("reason", "looked"))
    return records.decide(t.shop, lead, revision.id, verdict, reason, seen, reauthenticated=again, **more)  # type: ignore[arg-type]


def test_an_approved_revision_is_cleared_and_the_sign_off_names_person_meaning_and_all_it_is_bound_to(
    t: TestShop,
) -> None:
    at_machine(t, b"A")
    called = (records.Called("O9000", digest("sub")),)
    revision = submit(t, b"B", b"A", sign_off_required=True, called=called, setup_digest=digest("setup"))
    decide(t, t.cid, revision)
    assert records.revision(t.shop, revision.id).state == "cleared"
    row = t.shop.database.rows("SELECT * FROM decision ORDER BY id DESC LIMIT 1")[0]
    assert (row["full_name"], row["reason"], row["digest_seen"]) == ("Lead C", "looked", revision.report_digest)
    assert "clear the revision for release" in row["meaning"]
    (bound,) = json.loads(row["bound"])
    assert bound["revision"] == revision.sha
    assert bound["base"] == revision.base_shas[0]
    assert bound["change report"] == revision.report_digest
    assert (bound["policy"], bound["rules"], bound["machine profile"]) == tuple(
        map(digest, ("policy", "rules", "machine"))
    )
    assert (bound["setup sheet"], bound["tool version"]) == (digest("setup"), "0.1.0")
    assert json.loads(bound["called programs"]) == [["O9000", digest("sub")]]


def test_nobody_signs_off_their_own_revision(t: TestShop) -> None:
    revision = submit(t, b"A", author=t.ben)
    for verdict in ("approve", "turn back"):
        with refused("own_revision"):
            decide(t, t.ben, revision, verdict)
    with refused("own_revision"):
        decide(t, t.ben, revision, "prove-out", machine="L1", days=1)


def test_who_handed_the_bytes_in_at_any_time_does_not_sign_them_off(t: TestShop) -> None:
    submit(t, b"A", author=t.ben)
    revision = submit(t, b"A", author=t.ann)
    with refused("own_revision"):
        decide(t, t.ben, revision)


def test_the_database_itself_refuses_a_decision_on_ones_own_revision(t: TestShop) -> None:
    revision = submit(t, b"A", author=t.ben)
    row = t.shop.database.rows("SELECT review FROM revision WHERE id=?", revision.id)[0]
    with pytest.raises(DriverError, match="nobody signs off"), t.shop.database.write():
        values = {"revision": revision.id, "review": row["review"], "verdict": "approve", "lead": t.ben, "at_us": 1}
        text = {"full_name": "x", "meaning": "x", "reason": "x", "digest_seen": revision.report_digest, "bound": "[]"}
        t.shop.database.insert("decision", {**values, **text})


@pytest.mark.parametrize("who", ["ann", "dot", "admin"])
def test_only_a_lead_decides(t: TestShop, who: str) -> None:
    revision = submit(t, b"A", author=t.ben)
    with refused("wrong_role"):
        decide(t, getattr(t, who), revision)


def test_a_lead_who_lost_the_role_between_page_and_click_is_refused(t: TestShop) -> None:
    revision = submit(t, b"A")
    records.change_person(t.shop, t.admin, t.cid, roles=["operator"], reason="moved")
    with refused("wrong_role"):
        decide(t, t.cid, revision)


def test_a_sign_off_asks_again_who_it_is(t: TestShop) -> None:
    with refused("sign_in_again"):
        decide(t, t.cid, submit(t, b"A"), reauthenticated=False)


def test_a_sign_off_needs_a_reason(t: TestShop) -> None:
    with refused("reason_missing"):
        decide(t, t.cid, submit(t, b"A"), reason=" ")


def test_a_decision_on_a_report_that_has_been_replaced_is_refused(t: TestShop) -> None:
    old = submit(t, b"A")
    new = submit(t, b"A", policy_digest=digest("other"))
    assert new.report_digest != old.report_digest
    with refused("stale_report"):
        decide(t, t.cid, old)
    decide(t, t.cid, new)


def test_a_decision_on_a_report_whose_base_was_replaced_is_refused(t: TestShop) -> None:
    at_machine(t, b"A")
    waiting = submit(t, b"B", b"A", sign_off_required=True)
    at_machine(t, b"C", b"A")
    with refused("stale_base"):
        decide(t, t.cid, waiting)
    assert records.revision(t.shop, waiting.id).state == "held"


def test_a_second_decision_is_refused(t: TestShop) -> None:
    revision = submit(t, b"A")
    decide(t, t.cid, revision)
    with refused("already_decided"):
        decide(t, t.ben, revision, "turn back")


def test_what_is_not_held_is_not_decided_on(t: TestShop) -> None:
    at_machine(t, b"A")
    with refused("not_held"):
        decide(t, t.cid, submit(t, b"B", b"A"))
    with refused("unknown_revision"):
        records.decide(t.shop, t.cid, 999, "approve", "x", digest("x"), reauthenticated=True)


def test_only_the_three_decisions_exist(t: TestShop) -> None:
    with refused("bad_verdict"):
        decide(t, t.cid, submit(t, b"A"), "ok")


@pytest.mark.parametrize(
    "more",
    [
        {},
        {"machine": "L1"},
        {"machine": "L1", "days": 0},
        {"machine": "L1", "days": 31},
        {"machine": "L2", "days": 1},
        {"machine": "L1", "days": True},
    ],
)
def test_a_prove_out_is_at_one_machine_of_the_program_for_a_number_of_days(
    t: TestShop, more: dict[str, object]
) -> None:
    with refused("bad_prove_out"):
        decide(t, t.cid, submit(t, b"A"), "prove-out", **more)


def prove_out(
    t: TestShop, body: bytes, base: bytes | None = None, days: int = 2, **more: object
) -> records.RevisionFacts:
    revision = submit(t, body, base, sign_off_required=True, **more)
    decide(t, t.cid, revision, "prove-out", machine="L1", days=days)
    return records.revision(t.shop, revision.id)


def test_a_prove_out_lies_at_its_machine_only_and_is_no_base(t: TestShop) -> None:
    first = at_machine(t, b"A")
    revision = prove_out(t, b"B", b"A")
    assert revision.state == "prove-out"
    (standing,) = records.at_machine(t.shop, "L1")
    assert (standing.revision, standing.kind) == (revision.id, "prove-out")
    assert records.base_shas(t.shop, "O1000", "L1") == (first.sha,)
    with refused("in_prove_out"):
        submit(t, b"B", b"A")


def test_a_prove_out_ends_cleared_by_first_piece_readings_and_is_then_released(t: TestShop) -> None:
    at_machine(t, b"A")
    revision = prove_out(t, b"B", b"A")
    with refused("not_at_machine"):
        records.confirm_prove_out(t.shop, t.dot, "L1", revision.id, readings="25.01", reauthenticated=True)
    publish(t)
    done = records.confirm_prove_out(t.shop, t.dot, "L1", revision.id, readings="25.01", reauthenticated=True)
    assert (done.what, done.how, done.strength) == ("prove-out", "first piece", "weak")
    assert records.revision(t.shop, revision.id).state == "cleared"
    current = records.reports(t.shop, revision.id)
    records.release(t.shop, t.ann, revision.id, "proved", current)
    assert records.revision(t.shop, revision.id).state == "released"


def test_a_prove_out_read_back_with_an_edit_counts_only_once_the_edit_is_submitted(t: TestShop) -> None:
    at_machine(t, b"A")
    revision = prove_out(t, b"B", b"A")
    publish(t)
    back = records.record_readback(t.shop, t.dot, "L1", revision.id, b"B edited", False, ["block 2"])
    with refused("readback_not_submitted"):
        records.confirm_prove_out(t.shop, t.dot, "L1", revision.id, readback=back.id, reauthenticated=True)
    submit(t, b"B edited", b"A", author=t.dot)
    done = records.confirm_prove_out(t.shop, t.dot, "L1", revision.id, readback=back.id, reauthenticated=True)
    assert (done.how, done.strength) == ("read-back", "weak")


def test_a_prove_out_is_confirmed_by_one_thing_and_only_where_it_runs(t: TestShop) -> None:
    released = at_machine(t, b"A")
    with refused("not_in_prove_out"):
        records.confirm_prove_out(t.shop, t.dot, "L1", released.id, readings="25.01", reauthenticated=True)
    revision = prove_out(t, b"B", b"A")
    publish(t)
    with refused("bad_prove_out"):
        records.confirm_prove_out(t.shop, t.dot, "L1", revision.id, reauthenticated=True)
    with refused("bad_prove_out"):
        records.confirm_prove_out(t.shop, t.dot, "L1", revision.id, readings="x", readback=1, reauthenticated=True)
    with refused("not_in_prove_out"):
        records.confirm_prove_out(t.shop, t.dot, "L2", revision.id, readings="x", reauthenticated=True)


def test_a_prove_out_whose_days_are_over_is_recalled_by_itself(t: TestShop) -> None:
    first = at_machine(t, b"A")
    revision = prove_out(t, b"B", b"A")
    publish(t)
    assert records.end_overdue(t.shop) == ()
    t.clock.now += 2 * 86_400_000_000
    with refused("prove_out_over"):
        records.confirm_prove_out(t.shop, t.dot, "L1", revision.id, readings="late", reauthenticated=True)
    (notice,) = records.end_overdue(t.shop)
    assert (notice.n, notice.machines) == (2, ("L1",))
    assert records.revision(t.shop, revision.id).state == "recalled"
    assert records.at_machine(t.shop, "L1") == ()
    assert [job.kind for job in records.pending_jobs(t.shop)] == ["remove"]
    assert records.base_shas(t.shop, "O1000", "L1") == (first.sha,)


def test_an_overdue_prove_out_ends_by_the_latest_time_ever_seen(t: TestShop) -> None:
    prove_out(t, b"B")
    publish(t)
    t.clock.now += 3 * 86_400_000_000
    submit(t, b"other", program="O2000")
    t.clock.now -= 3 * 86_400_000_000
    assert len(records.end_overdue(t.shop)) == 1


def test_nothing_else_is_put_where_a_prove_out_runs(t: TestShop) -> None:
    at_machine(t, b"A")
    prove_out(t, b"B", b"A")
    other = submit(t, b"C", b"A")
    with refused("prove_out_running"):
        records.release(t.shop, t.ann, other.id, "go", records.reports(t.shop, other.id))
    held = submit(t, b"D", b"A", sign_off_required=True)
    with refused("prove_out_running"):
        decide(t, t.cid, held, "prove-out", machine="L1", days=1)


def test_a_prove_out_is_not_released_by_that_decision_alone(t: TestShop) -> None:
    at_machine(t, b"A")
    revision = prove_out(t, b"B", b"A")
    with refused("not_cleared"):
        records.release(t.shop, t.ann, revision.id, "go", [report(b"B", b"A")])


def test_two_processes_that_decide_at_the_same_moment_have_one_winner(t: TestShop) -> None:
    for round_ in range(12):
        revision = submit(t, b"A%d" % round_, program=f"R{round_}")
        read, write = os.pipe()
        children = []
        for lead, verdict in ((t.ben, "approve"), (t.cid, "turn back")):
            child = os.fork()
            if child == 0:  # each process opens its own connection and waits for the gun
                code = 3
                try:
                    os.close(write)
                    t.shop.database.value("SELECT 1")
                    os.read(read, 1)
                    decide(t, lead, revision, verdict)
                    code = 0
                except ActRefused as error:
                    code = 1 if error.code == "already_decided" else 2
                finally:
                    os._exit(code)
            children.append(child)
        os.close(read)
        os.close(write)
        codes = sorted(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children)
        assert codes == [0, 1]
        assert t.shop.database.value("SELECT count(*) FROM decision WHERE revision=?", revision.id) == 1


def test_the_driver_of_the_records_is_the_one_that_sqlite_utils_uses() -> None:
    from sqlite_utils.utils import sqlite3 as used

    assert DriverError is used.Error
    assert used is sqlite3 or not issubclass(used.Error, sqlite3.Error)
    assert issubclass(ActRefused, StoreError)


# -- new critical findings ---------------------------------------------------------------------------------------------


def critical(t: TestShop) -> records.RevisionFacts:
    at_machine(t, b"A")
    return submit(t, b"B", b"A", has_critical=True, sign_off_required=True)


@pytest.mark.parametrize(("verdict", "more"), [("approve", {}), ("prove-out", {"machine": "L1", "days": 1})])
def test_every_new_critical_finding_is_ticked_before_a_revision_may_go_to_a_machine(
    t: TestShop, verdict: str, more: dict[str, object]
) -> None:
    revision = critical(t)
    assert [one.rule for one in records.wanted_ticks(t.shop, revision.id)] == ["clamp-gone", "point-lost"]
    for ticked in ((), TICKS[:1], TICKS[1:]):
        with refused("not_ticked") as caught:
            decide(t, t.cid, revision, verdict, ticked=ticked, **more)
        missing = set(TICKS) - set(ticked)
        assert {name for name in TICKS if name in caught.value.hint} == missing
    with refused("unknown_finding"):
        decide(t, t.cid, revision, verdict, ticked=(*TICKS, "00000000"), **more)
    assert records.revision(t.shop, revision.id).state == "held"
    decide(t, t.cid, revision, verdict, ticked=(*TICKS, TICKS[0]), **more)
    noted = json.loads(records.history(t.shop, "O1000", "L1")[-1].body)
    assert noted["critical_read"] == [f"clamp-gone {TICKS[0]}", f"point-lost {TICKS[1]}"]


def test_turning_back_asks_for_no_tick_and_notes_those_that_were_made(t: TestShop) -> None:
    decide(t, t.cid, critical(t), "turn back", ticked=TICKS[:1])
    assert json.loads(records.history(t.shop, "O1000", "L1")[-1].body)["critical_read"] == [f"clamp-gone {TICKS[0]}"]


def test_a_finding_of_several_reports_is_ticked_once(t: TestShop) -> None:
    at_machine(t, b"A", target="PAIR")
    records.add_machine(t.shop, t.admin, "L4", profile=b"x", folder="machines/L4", group="PAIR")
    other = json.dumps({"findings": [*FINDINGS[:1], {**FINDINGS[1], "title": "another point was lost"}]}).encode()
    facts = [report(b"B", None, has_critical=True), report(b"B", b"A", has_critical=True, json=other)]
    revision = records.submit(t.shop, t.ann, "O1000", "PAIR", b"B", "because", facts)
    names = [one.name for one in records.wanted_ticks(t.shop, revision.id)]
    assert len(names) == 3 and set(TICKS) < set(names)
    with refused("not_ticked"):
        decide(t, t.cid, revision, ticked=TICKS)
    decide(t, t.cid, revision, ticked=names)


@pytest.mark.parametrize("changes", [{"has_critical": True, "json": b"{}"}, {"json": CRITICAL}, {"json": b"[1"}])
def test_a_report_that_says_otherwise_than_its_content_is_refused(t: TestShop, changes: dict[str, object]) -> None:
    with refused("bad_report"):
        submit(t, b"A", None, **changes)
