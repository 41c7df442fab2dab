"""Taking away and going back."""

from __future__ import annotations

import pytest
from shops import TestShop, approve, at_machine, confirm, go_back, publish, release, report, submit

from verifier import records
from verifier.source import ActRefused


def refused(code: str) -> pytest.RaisesExc[ActRefused]:
    return pytest.raises(ActRefused, check=lambda error: error.code == code)


def test_a_recall_ends_the_release_orders_the_file_away_and_names_the_machines(t: TestShop) -> None:
    revision = at_machine(t, b"A", target="PAIR")
    notice = records.recall(t.shop, t.cid, revision.id, "wrong clamp")
    assert (notice.program, notice.n, notice.machines) == ("O1000", 1, ("L2", "L3"))
    assert records.revision(t.shop, revision.id).state == "recalled"
    assert records.at_machine(t.shop, "L2") == records.at_machine(t.shop, "L3") == ()
    assert [(j.machine.name, j.kind) for j in records.pending_jobs(t.shop)] == [("L2", "remove"), ("L3", "remove")]


def test_a_machine_that_confirmed_nothing_newer_is_still_believed_to_hold_the_recalled_one(t: TestShop) -> None:
    old = at_machine(t, b"A")
    confirm(t, old)
    at_machine(t, b"B", b"A")  # released, and never confirmed at the machine
    assert records.recall(t.shop, t.cid, old.id, "bad").machines == ("L1",)


def test_only_a_lead_recalls_and_only_what_lies_somewhere(t: TestShop) -> None:
    revision = at_machine(t, b"A")
    with refused("wrong_role"):
        records.recall(t.shop, t.ann, revision.id, "x")
    with refused("reason_missing"):
        records.recall(t.shop, t.cid, revision.id, " ")
    with refused("wrong_state"):
        records.recall(t.shop, t.cid, submit(t, b"B", b"A").id, "x")
    records.recall(t.shop, t.cid, revision.id, "x")
    with refused("wrong_state"):
        records.recall(t.shop, t.cid, revision.id, "again")


def test_recalling_before_the_file_was_written_overtakes_its_job(t: TestShop) -> None:
    revision = approve(t, submit(t, b"A"))
    release(t, revision)
    (job,) = records.pending_jobs(t.shop)
    records.recall(t.shop, t.cid, revision.id, "x")
    assert not records.still_wanted(t.shop, job.id)
    assert records.finish_job(t.shop, job.id, job.sha) is False


def test_an_operator_goes_back_alone_to_what_was_proven_there(t: TestShop) -> None:
    good = at_machine(t, b"A")
    confirm(t, good)
    bad = at_machine(t, b"B", b"A")
    confirm(t, bad)
    back, now = go_back(t, t.dot, "O1000", "L1", "chatter")
    assert (back.id, back.state, now.kind) == (good.id, "released", "return")
    assert records.revision(t.shop, bad.id).state == "retired"
    publish(t)
    assert records.at_machine(t.shop, "L1")[0].at_machine
    assert records.base_shas(t.shop, "O1000", "L1") == (good.sha,)
    # Going back never goes forward again.
    with refused("nothing_proven"):
        go_back(t, t.dot, "O1000", "L1", "and again")


def test_going_back_steps_through_what_was_proven_one_at_a_time(t: TestShop) -> None:
    bodies = [(b"A", None), (b"B", b"A"), (b"C", b"B")]
    proven = []
    for body, base in bodies:
        proven.append(at_machine(t, body, base))
        confirm(t, proven[-1])
    for expected in (proven[1], proven[0]):
        back, _ = go_back(t, t.dot, "O1000", "L1", "not good either")
        assert back.id == expected.id
    assert records.can_go_back_to(t.shop, "O1000", "L1") is None


def test_nobody_goes_back_where_nothing_was_confirmed(t: TestShop) -> None:
    at_machine(t, b"A")
    at_machine(t, b"B", b"A")
    with refused("nothing_proven"):
        go_back(t, t.dot, "O1000", "L1", "x")


def test_a_revision_that_was_never_confirmed_is_skipped_when_going_back(t: TestShop) -> None:
    proven = at_machine(t, b"A")
    confirm(t, proven)
    at_machine(t, b"B", b"A")
    at_machine(t, b"C", b"B", proven=b"A")
    facts = records.can_go_back_to(t.shop, "O1000", "L1")
    assert facts is not None and facts.id == proven.id


def test_nobody_goes_back_to_a_recalled_revision(t: TestShop) -> None:
    proven = at_machine(t, b"A")
    confirm(t, proven)
    at_machine(t, b"B", b"A")
    records.recall(t.shop, t.cid, proven.id, "bad")
    with refused("nothing_proven"):
        go_back(t, t.dot, "O1000", "L1", "x")


def test_after_a_recall_the_proven_one_before_can_be_put_back(t: TestShop) -> None:
    proven = at_machine(t, b"A")
    confirm(t, proven)
    bad = at_machine(t, b"B", b"A")
    records.recall(t.shop, t.cid, bad.id, "bad")
    back, _ = go_back(t, t.cid, "O1000", "L1", "needed")
    assert back.id == proven.id
    jobs = records.pending_jobs(t.shop)
    assert [(j.kind, j.sha) for j in jobs] == [("write", proven.sha)]


def test_going_back_from_a_prove_out_recalls_it(t: TestShop) -> None:
    proven = at_machine(t, b"A")
    confirm(t, proven)
    trial = submit(t, b"B", b"A", sign_off_required=True)
    seen = trial.report_digest
    records.decide(t.shop, t.cid, trial.id, "prove-out", "try", seen, reauthenticated=True, machine="L1", days=3)
    publish(t)
    go_back(t, t.dot, "O1000", "L1", "no good")
    assert records.revision(t.shop, trial.id).state == "recalled"
    assert [r.revision for r in records.at_machine(t.shop, "L1")] == [proven.id]


def test_going_back_is_for_an_operator_or_a_lead(t: TestShop) -> None:
    at_machine(t, b"A")
    with refused("wrong_role"):
        go_back(t, t.ann, "O1000", "L1", "x")
    with refused("unknown_program"):
        go_back(t, t.dot, "O7", "L1", "x")
    with refused("unknown_machine"):
        go_back(t, t.dot, "O1000", "L9", "x")


def test_one_machine_of_a_group_goes_back_by_itself(t: TestShop) -> None:
    first = at_machine(t, b"A", target="PAIR")
    records.confirm_by_check_code(t.shop, t.dot, "L3", first.id, "abcd2345", ("X25.", "G01"), reauthenticated=True)
    second = at_machine(t, b"B", b"A", target="PAIR")
    go_back(t, t.dot, "O1000", "L3", "chatter")
    assert [r.revision for m in ("L2", "L3") for r in records.at_machine(t.shop, m)] == [second.id, first.id]
    assert {records.revision(t.shop, r.id).state for r in (first, second)} == {"released"}
    with refused("stale_base"):
        records.submit(t.shop, t.ann, "O1000", "PAIR", b"C", "x", [report(b"C", b"B")])


def test_the_same_request_to_go_back_made_twice_goes_back_once(t: TestShop) -> None:
    for body, base in ((b"A", None), (b"B", b"A"), (b"C", b"B")):
        confirm(t, at_machine(t, body, base))
    seen = records.at_machine(t.shop, "L1")[0].revision
    records.go_back(t.shop, t.dot, "O1000", "L1", seen, "chatter")
    with refused("stale_page"):
        records.go_back(t.shop, t.dot, "O1000", "L1", seen, "chatter")
    assert [r.n for r in records.at_machine(t.shop, "L1")] == [2]


def test_a_lead_orders_a_lost_file_again_and_it_is_not_there_until_read_back(t: TestShop) -> None:
    revision = at_machine(t, b"A")
    with refused("wrong_role"):
        records.write_again(t.shop, t.dot, "O1000", "L1", "lost")
    assert not records.write_again(t.shop, t.cid, "O1000", "L1", "lost").at_machine
    with refused("not_at_machine"):
        confirm(t, revision)
    publish(t)
    assert records.at_machine(t.shop, "L1")[0].at_machine
    confirm(t, revision)
    records.recall(t.shop, t.cid, revision.id, "bad")
    with refused("nothing_stands"):
        records.write_again(t.shop, t.cid, "O1000", "L1", "lost")


def test_programs_are_listed_with_what_stands_where(t: TestShop) -> None:
    at_machine(t, b"A", target="PAIR")
    at_machine(t, b"B", b"A", target="PAIR")
    submit(t, b"C", program="SHAFT")
    told = [(p.name, p.target, p.revisions, p.standing) for p in records.programs(t.shop)]
    assert told == [("O1000", "PAIR", 2, (("L2", 2), ("L3", 2))), ("SHAFT", "L1", 1, ())]
    first = records.programs(t.shop, most=1)
    assert [p.name for p in records.programs(t.shop, after=first[0].id)] == ["SHAFT"]
