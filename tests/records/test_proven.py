"""The revision last proven at each machine: what a report tells the total change since, and what a sign-off is bound to."""

from __future__ import annotations

import json
from hashlib import sha256

import pytest
from shops import TestShop, approve, at_machine, confirm, go_back, publish, release, report, submit

from verifier import records
from verifier.records import Ground
from verifier.source import ActRefused


def sha(body: bytes) -> str:
    return sha256(body).hexdigest()


def ground(t: TestShop, body: bytes, target: str = "L1") -> tuple[Ground, ...]:
    return records.grounds(t.shop, "O1000", target, sha(body))


def test_what_was_confirmed_last_is_told_beside_the_base(t: TestShop) -> None:
    assert ground(t, b"C") == (Ground(None),)
    confirm(t, at_machine(t, b"A"))
    assert ground(t, b"C") == (Ground(sha(b"A")),)
    second = at_machine(t, b"B", b"A")
    assert ground(t, b"C") == (Ground(sha(b"B"), sha(b"A")),)
    confirm(t, second)
    assert ground(t, b"C") == (Ground(sha(b"B")),)


def test_what_was_turned_back_since_is_not_proven(t: TestShop) -> None:
    first = at_machine(t, b"A")
    confirm(t, first)
    at_machine(t, b"B", b"A")
    at_machine(t, b"C", b"B", proven=b"A")
    again = submit(t, b"A", b"C", proven=b"A", sign_off_required=True, sign_off_reasons=("feed",))
    assert ground(t, b"D") == (Ground(sha(b"C"), sha(b"A")),)
    records.decide(t.shop, t.cid, again.id, "turn back", "no more", again.report_digest, reauthenticated=True)
    assert ground(t, b"D") == (Ground(sha(b"C")),)


def test_what_was_recalled_is_proven_no_longer_even_when_it_is_handed_in_again(t: TestShop) -> None:
    first = at_machine(t, b"A")
    confirm(t, first)
    at_machine(t, b"B", b"A")
    records.recall(t.shop, t.cid, first.id, "cracked")
    assert ground(t, b"C") == (Ground(sha(b"B")),)
    submit(t, b"A", b"B")
    assert ground(t, b"C") == (Ground(sha(b"B")),)


def test_going_back_makes_that_one_base_and_proven(t: TestShop) -> None:
    first = at_machine(t, b"A")
    confirm(t, first)
    at_machine(t, b"B", b"A")
    go_back(t, t.dot, "O1000", "L1", "chatter")
    assert ground(t, b"C") == (Ground(sha(b"A")),)


def test_a_prove_out_proves_for_others_and_not_for_itself(t: TestShop) -> None:
    at_machine(t, b"A")
    tried = submit(t, b"B", b"A", sign_off_required=True, sign_off_reasons=("feed",))
    seen = tried.report_digest
    records.decide(t.shop, t.cid, tried.id, "prove-out", "try", seen, reauthenticated=True, machine="L1", days=2)
    publish(t)
    records.confirm_prove_out(t.shop, t.dot, "L1", tried.id, readings="25.01", reauthenticated=True)
    assert ground(t, b"C") == (Ground(sha(b"A"), sha(b"B")),)
    assert ground(t, b"B") == (Ground(sha(b"A")),)
    release(t, tried)
    assert ground(t, b"C") == (Ground(sha(b"B")),)


def test_machines_of_a_group_with_different_proven_revisions_need_a_report_each(t: TestShop) -> None:
    first = at_machine(t, b"A", target="PAIR")
    records.confirm_by_check_code(t.shop, t.dot, "L2", first.id, "ABCD2345", ("X25.", "G1"), reauthenticated=True)
    assert ground(t, b"B", "PAIR") == (Ground(sha(b"A")),)
    at_machine(t, b"B", b"A", target="PAIR")
    wanted = ground(t, b"C", "PAIR")
    assert wanted == (Ground(sha(b"B")), Ground(sha(b"B"), sha(b"A")))
    facts = [report(b"C", b"B"), report(b"C", b"B", proven_sha=sha(b"A"))]
    with pytest.raises(ActRefused) as caught:
        records.submit(t.shop, t.ann, "O1000", "PAIR", b"C", "r", facts[:1])
    assert caught.value.code == "stale_proven"
    done = records.submit(t.shop, t.ann, "O1000", "PAIR", b"C", "r", facts[::-1])
    assert done.base_shas == (sha(b"B"),)
    assert [one.ground for one in records.reports(t.shop, done.id)] == list(wanted)


def test_a_decision_is_bound_to_what_was_proven_and_refused_once_that_is_another(t: TestShop) -> None:
    confirm(t, at_machine(t, b"A"))
    second = at_machine(t, b"B", b"A")
    third = submit(t, b"C", b"B", proven=b"A", sign_off_required=True, sign_off_reasons=("feed",))
    signed = approve(t, third)
    row = t.shop.database.rows("SELECT bound FROM decision ORDER BY id DESC LIMIT 1")[0]
    assert json.loads(row["bound"])[0]["proven revision"] == sha(b"A")
    other = submit(t, b"D", b"B", proven=b"A", sign_off_required=True, sign_off_reasons=("feed",))
    confirm(t, second)
    with pytest.raises(ActRefused) as caught:
        approve(t, other)
    assert caught.value.code == "stale_proven"
    assert records.revision(t.shop, other.id).state == "held"
    with pytest.raises(ActRefused) as caught:
        records.release(t.shop, t.ann, signed.id, "go", [report(b"C", b"B")])
    assert caught.value.code == "changed_since" and "proven revision" in caught.value.message
    held = records.revision(t.shop, signed.id)
    assert held.state == "held" and "proven revision" in held.held_because[0]
    release(t, approve(t, held))
    assert records.verify_ledger(t.shop.folder).ok


@pytest.mark.parametrize(("base", "proven"), [(None, b"A"), (b"A", b"A")])
def test_a_total_without_a_base_or_since_it_is_no_report(base: bytes | None, proven: bytes, t: TestShop) -> None:
    with pytest.raises(ActRefused) as caught:
        submit(t, b"B", base, proven=proven)
    assert caught.value.code == "bad_report"


def test_what_it_called_when_it_was_proven_is_kept(t: TestShop) -> None:
    sub = at_machine(t, b"S1", program="O2")
    called = (records.Called("O2", sub.sha),)
    confirm(t, at_machine(t, b"A", called=called))
    at_machine(t, b"B", b"A", called=called)
    assert records.called_when_proven(t.shop, "O1000", "L1", sha(b"C"), sha(b"A")) == called
    assert records.called_when_proven(t.shop, "O1000", "L1", sha(b"C"), sha(b"B")) == ()
