"""Hazards that a lead accepts: whose act it is, what it is on, what rests on it, and how it ends."""

from __future__ import annotations

import json
from hashlib import sha256

import pytest
from shops import TestShop, approve, at_machine, digest, go_back, release, report, submit

from verifier import records
from verifier.records import AcceptanceFacts, RevisionFacts
from verifier.records.database import DriverError
from verifier.source import ActRefused

CLAMP = {"clamp": None}


def refused(code: str) -> pytest.RaisesExc[ActRefused]:
    return pytest.raises(ActRefused, check=lambda error: error.code == code)


def accept(t: TestShop, on: RevisionFacts, key: str = "clamp", **more: object) -> AcceptanceFacts:
    lead, seen = int(str(more.pop("lead", t.cid))), str(more.pop("seen", on.report_digest))
    reason, again = str(more.pop("reason", "bar of 20 mm, held in a collet")), bool(more.pop("again", True))
    return records.accept(t.shop, lead, on.id, digest(key), reason, seen, reauthenticated=again)


def withdraw(t: TestShop, one: AcceptanceFacts, lead: int | None = None) -> AcceptanceFacts:
    who = t.cid if lead is None else lead
    return records.withdraw_acceptance(t.shop, who, one.id, "the collet is worn", reauthenticated=True)


def held(t: TestShop, body: bytes = b"B", base: bytes = b"A", **changes: object) -> RevisionFacts:
    more = {"hazards": CLAMP, "sign_off_required": True, "sign_off_reasons": ("feed",), **changes}
    return submit(t, body, base, **more)


def test_an_acceptance_says_who_when_why_and_what_it_is_bound_to(t: TestShop) -> None:
    at_machine(t, b"A")
    on = held(t)
    one = accept(t, on)
    assert (one.program, one.target, one.n, one.key) == ("O1000", "L1", 2, digest("clamp"))
    assert (one.rule, one.rule_revision, one.weight, one.title) == ("stood-before", 1, "critical", "no clamp")
    assert (one.words, one.by, one.reason) == (("G96 S180",), "Lead C", "bar of 20 mm, held in a collet")
    assert (one.ended_us, one.ended_by, one.ended_reason) == (None, None, None) and one.at_us == t.clock.now
    assert records.acceptances(t.shop, "O1000", "L1") == (one,) == (records.acceptance(t.shop, one.id),)
    entry = records.history(t.shop, "O1000", "L1")[-1]
    body = json.loads(entry.body)
    assert (entry.act, entry.person) == ("hazard accepted", "Lead C")
    assert (body["report"], body["key"], body["signed_by"]) == (on.report_digest, digest("clamp"), "Lead C")
    assert "accept it for as long as" in body["meaning"] and records.verify_ledger(t.shop.folder).ok


def test_it_leaves_the_revision_and_its_report_as_they_are(t: TestShop) -> None:
    at_machine(t, b"A")
    on = held(t)
    accept(t, on)
    assert records.revision(t.shop, on.id) == on
    assert approve(t, on).state == "cleared"
    release(t, on)
    assert records.revision(t.shop, on.id).state == "released"


@pytest.mark.parametrize("who", ["ann", "dot", "admin"])
def test_only_a_lead_accepts_and_withdraws(t: TestShop, who: str) -> None:
    at_machine(t, b"A")
    on = held(t)
    with refused("wrong_role"):
        accept(t, on, lead=getattr(t, who))
    one = accept(t, on)
    with refused("wrong_role"):
        withdraw(t, one, getattr(t, who))


def test_nobody_accepts_a_hazard_of_their_own_revision(t: TestShop) -> None:
    at_machine(t, b"A")
    on = held(t, author=t.ben)
    with refused("own_revision"):
        accept(t, on, lead=t.ben)
    again = held(t, author=t.ann)
    assert again.id == on.id
    with refused("own_revision"):
        accept(t, again, lead=t.ben)
    accept(t, again)


def test_a_reason_and_a_proof_of_the_person_are_needed(t: TestShop) -> None:
    at_machine(t, b"A")
    on = held(t)
    with refused("reason_missing"):
        accept(t, on, reason="  ")
    with refused("sign_in_again"):
        accept(t, on, again=False)
    one = accept(t, on)
    with refused("sign_in_again"):
        records.withdraw_acceptance(t.shop, t.cid, one.id, "worn", reauthenticated=False)
    with refused("reason_missing"):
        records.withdraw_acceptance(t.shop, t.cid, one.id, "", reauthenticated=True)


def test_only_what_the_present_report_lets_be_accepted_is_accepted(t: TestShop) -> None:
    at_machine(t, b"A")
    on = held(t, hazards={"clamp": None, "touched": None})
    for key in ("touched", "strange"):
        with refused("unknown_hazard"):
            accept(t, on, key)
    with refused("stale_report"):
        accept(t, on, seen=digest("an older report"))
    accept(t, on)
    with refused("already_accepted"):
        accept(t, on)


def test_nothing_is_accepted_on_a_revision_that_is_out_of_use(t: TestShop) -> None:
    at_machine(t, b"A")
    on = held(t)
    records.decide(t.shop, t.cid, on.id, "turn back", "no", on.report_digest, reauthenticated=True)
    with refused("wrong_state"):
        accept(t, on)
    again = held(t, b"C")
    records.withdraw(t.shop, t.ann, again.id, "not yet")
    with refused("wrong_state"):
        accept(t, again)


def test_it_is_of_one_program_at_one_target_only(t: TestShop) -> None:
    at_machine(t, b"A")
    at_machine(t, b"A", target="PAIR")
    one = accept(t, held(t))
    assert records.acceptances(t.shop, "O1000", "PAIR") == ()
    with refused("stale_accepted"):
        held(t, target="PAIR", hazards={"clamp": one.id})
    other = accept(t, held(t, target="PAIR"))
    assert records.acceptances(t.shop, "O1000", "L2") == (other,) and other.target == "PAIR"


def test_a_report_must_say_what_its_content_says(t: TestShop) -> None:
    at_machine(t, b"A")
    one = accept(t, held(t))
    facts = report(b"C", b"A", hazards=CLAMP)
    for wrong in ((one.id,), (one.id, 77)):
        with refused("bad_report"):
            submit(t, b"C", b"A", json=facts.json, accepted=wrong)


def test_a_report_rests_on_it_and_a_sign_off_is_bound_to_it(t: TestShop) -> None:
    at_machine(t, b"A")
    one = accept(t, held(t))
    second = held(t, b"C", hazards={"clamp": one.id})
    assert records.reports(t.shop, second.id)[0].accepted == (one.id,)
    approve(t, second)
    (bound,) = json.loads(t.shop.database.rows("SELECT bound FROM decision ORDER BY id DESC LIMIT 1")[0]["bound"])
    assert bound["accepted hazards"] == str(one.id)
    release(t, second)
    assert records.revision(t.shop, second.id).state == "released" and records.verify_ledger(t.shop.folder).ok


def test_withdrawn_it_makes_the_reports_that_rest_on_it_stale(t: TestShop) -> None:
    at_machine(t, b"A")
    on = held(t)
    one = accept(t, on)
    waiting, cleared = held(t, b"C", hazards={"clamp": one.id}), held(t, b"D", hazards={"clamp": one.id})
    approve(t, cleared)
    ended = withdraw(t, one, t.ben)
    assert (ended.ended_by, ended.ended_reason) == ("Programmer and Lead B", "the collet is worn") and ended.ended_us
    with refused("already_withdrawn"):
        withdraw(t, one)
    assert approve(t, on).state == "cleared", "a report that tells it in full is as good as before"
    for verdict in ("approve", "turn back"):
        with refused("stale_accepted"):
            records.decide(t.shop, t.cid, waiting.id, verdict, "x", waiting.report_digest, reauthenticated=True)
    with refused("stale_accepted"):
        release(t, cleared)
    with refused("stale_accepted"):
        held(t, b"E", hazards={"clamp": one.id})
    assert records.revision(t.shop, cleared.id).state == "cleared"
    now = report(b"D", b"A", sign_off_required=True, sign_off_reasons=("feed",), hazards=CLAMP)
    with pytest.raises(ActRefused, match="accepted hazards") as caught:
        records.release(t.shop, t.ann, cleared.id, "go", [now])
    assert caught.value.code == "changed_since"
    again = records.revision(t.shop, cleared.id)
    assert again.state == "held" and "accepted hazards" in again.held_because[0]
    assert approve(t, held(t, b"C")).state == "cleared"
    assert records.verify_ledger(t.shop.folder).ok


def test_after_its_end_the_hazard_may_be_accepted_again(t: TestShop) -> None:
    at_machine(t, b"A")
    on = held(t)
    first = accept(t, on)
    withdraw(t, first)
    second = accept(t, on)
    assert second.id != first.id
    assert [one.ended_us is None for one in records.acceptances(t.shop, "O1000", "L1")] == [False, True]


def test_going_back_does_not_ask_for_it(t: TestShop) -> None:
    """An operator's way back to what was proven is never barred by paper."""
    first = at_machine(t, b"A")
    records.confirm_by_check_code(t.shop, t.dot, "L1", first.id, "ABCD2345", ("X25.", "G1"), reauthenticated=True)
    one = accept(t, held(t))
    at_machine(t, b"C", b"A", hazards={"clamp": one.id})
    withdraw(t, one)
    assert go_back(t, t.dot, "O1000", "L1", "chatter")[0].id == first.id


def _row(t: TestShop, on: RevisionFacts, lead: int, **other: object) -> dict[str, object]:
    row = t.shop.database.rows("SELECT program, review FROM revision WHERE id=?", on.id)[0]
    said = {"key": digest("clamp"), "rule": "r", "rule_revision": 1, "weight": "major", "title": "t", "words": "[]"}
    signed = {"lead": lead, "full_name": "x", "meaning": "x", "reason": "x", "at_us": 1}
    return {"program": row["program"], "review": row["review"], "revision": on.id, **said, **signed, **other}


@pytest.mark.parametrize(
    ("who", "key", "said"),
    [("ben", "coolant", "nobody accepts"), ("dot", "coolant", "only a lead"), ("cid", "clamp", "accepted already")],
)
def test_the_database_itself_refuses_what_the_rules_refuse(t: TestShop, who: str, key: str, said: str) -> None:
    at_machine(t, b"A")
    on = held(t, author=t.ben if who == "ben" else t.ann)
    accept(t, on)
    with pytest.raises(DriverError, match=said), t.shop.database.write():
        t.shop.database.insert("acceptance", _row(t, on, getattr(t, who), key=digest(key)))


def test_the_database_itself_keeps_reports_and_decisions_to_what_holds(t: TestShop) -> None:
    at_machine(t, b"A")
    one = accept(t, held(t))
    second = held(t, b"C", hazards={"clamp": one.id})
    withdraw(t, one)
    row = t.shop.database.rows("SELECT id FROM report ORDER BY id LIMIT 1")[0]
    with pytest.raises(DriverError, match="does not hold"), t.shop.database.write():
        t.shop.database.insert("report_accepted", {"report": row["id"], "acceptance": one.id})
    review = t.shop.database.rows("SELECT review FROM revision WHERE id=?", second.id)[0]["review"]
    values = {"revision": second.id, "review": review, "verdict": "approve", "lead": t.cid, "at_us": 1}
    text = {"full_name": "x", "meaning": "x", "reason": "x", "digest_seen": second.report_digest, "bound": "[]"}
    with pytest.raises(DriverError, match="withdrawn"), t.shop.database.write():
        t.shop.database.insert("decision", {**values, **text})
    for sql in ("UPDATE acceptance SET reason='y'", "DELETE FROM acceptance_end", "DELETE FROM report_accepted"):
        with pytest.raises(DriverError, match="rows are never"), t.shop.database.write():
            t.shop.database.run(sql)


def test_the_content_of_a_row_is_covered_by_the_ledger(t: TestShop) -> None:
    at_machine(t, b"A")
    one = accept(t, held(t))
    assert one.key == sha256(b"clamp").hexdigest()
    with t.shop.database.write():
        t.shop.database.run("DROP TRIGGER acceptance_fixed")
        t.shop.database.run("UPDATE acceptance SET reason='another'")
    faults = records.verify_ledger(t.shop.folder).faults
    assert {"changed", "schema"} <= {fault.code for fault in faults}
