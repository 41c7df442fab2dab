"""Release: only what is cleared, only as it was looked at, and together with what belongs to it."""

from __future__ import annotations

import pytest
from shops import TestShop, approve, at_machine, digest, publish, release, report, submit

from verifier import records
from verifier.records.database import DriverError
from verifier.source import ActRefused


def refused(code: str) -> pytest.RaisesExc[ActRefused]:
    return pytest.raises(ActRefused, check=lambda error: error.code == code)


def test_a_release_retires_the_one_before_and_is_not_at_the_machine_until_read_back(t: TestShop) -> None:
    first = at_machine(t, b"A")
    second = submit(t, b"B", b"A")
    (made,) = release(t, second)
    assert (made.kind, made.at_machine, made.machine) == ("full", False, "L1")
    assert records.revision(t.shop, first.id).state == "retired"
    publish(t)
    assert [r.at_machine for r in records.at_machine(t.shop, "L1")] == [True]


def test_a_group_release_goes_to_each_machine(t: TestShop) -> None:
    revision = at_machine(t, b"A", target="PAIR")
    assert [r.revision for m in ("L2", "L3") for r in records.at_machine(t.shop, m)] == [revision.id] * 2


def test_what_is_held_is_not_released(t: TestShop) -> None:
    with refused("not_cleared"):
        release(t, submit(t, b"A"))


def test_the_database_itself_refuses_a_release_without_a_sign_off(t: TestShop) -> None:
    revision = submit(t, b"A")
    row = t.shop.database.rows("SELECT * FROM revision WHERE id=?", revision.id)[0]
    with pytest.raises(DriverError, match="not signed off"), t.shop.database.write():
        values = {"revision": revision.id, "review": row["review"], "machine": 1, "program": row["program"]}
        more = {"kind": "full", "origin": 1, "person": t.ann, "reason": "x", "challenge": "[]", "at_us": 1}
        t.shop.database.insert("release", {**values, **more})


def test_an_author_or_a_lead_releases_and_nobody_else(t: TestShop) -> None:
    records.add_person(t.shop, t.admin, "eve", "Programmer E", ["programmer"])
    eve = records.find_person(t.shop, "eve").id
    revision = approve(t, submit(t, b"A"))
    for who in (eve, t.dot, t.admin):
        with refused("wrong_role"):
            release(t, revision, who)
    release(t, revision, t.ben)


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"machine_digest": digest("x")}, "machine profile"),
        ({"setup_digest": digest("x")}, "setup sheet"),
        ({"policy_digest": digest("x")}, "policy"),
        ({"rules_digest": digest("x")}, "rules"),
        ({"tool_version": "0.2.0"}, "tool version"),
        ({"called": (records.Called("O9", digest("x")),)}, "called programs"),
        ({"digest": digest("x")}, "change report"),
    ],
)
@pytest.mark.parametrize("needs_lead", [True, False])
def test_a_change_of_anything_that_was_signed_holds_the_revision_again_and_says_what(
    t: TestShop, change: dict[str, object], word: str, needs_lead: bool
) -> None:
    at_machine(t, b"A")
    revision = submit(t, b"B", b"A", sign_off_required=needs_lead)
    revision = approve(t, revision) if needs_lead else revision
    now = report(b"B", b"A", **{"sign_off_required": needs_lead, **change})
    with refused("changed_since") as caught:
        records.release(t.shop, t.ann, revision.id, "go", [now])
    assert word in caught.value.message
    after = records.revision(t.shop, revision.id)
    assert after.state == "held" and word in after.held_because[0]
    assert after.report_digest == now.digest
    assert [r.n for r in records.at_machine(t.shop, "L1")] == [1]
    assert records.history(t.shop, "O1000", "L1")[-1].act == "held again"
    # The lead signs what is there now, and then it goes.
    approve(t, after)
    if not change.get("called"):
        records.release(t.shop, t.ann, revision.id, "go", [now])


@pytest.mark.parametrize("what", ["machine profile", "policy"])
def test_a_profile_or_policy_that_the_records_hold_otherwise_holds_the_revision_again_whatever_the_caller_says(
    t: TestShop, what: str
) -> None:
    at_machine(t, b"A")
    revision = approve(t, submit(t, b"B", b"A", sign_off_required=True))
    if what == "policy":
        records.set_policy(t.shop, t.cid, b"class = 'f'\n", "tighter")
    else:
        records.change_profile(t.shop, t.admin, "L1", b"kind = 'lathe'\nx = 1\n", "measured again")
    with refused("changed_since") as caught:
        release(t, revision)
    assert what in caught.value.message
    release(t, approve(t, records.revision(t.shop, revision.id)))


def test_what_stands_is_checked_again_under_another_profile_when_it_is_submitted_again(t: TestShop) -> None:
    at_machine(t, b"A")
    records.change_profile(t.shop, t.admin, "L1", b"kind = 'lathe'\nx = 1\n", "measured again")
    assert submit(t, b"A", b"A").state == "cleared"


def test_a_setup_sheet_stays_with_its_revision_through_being_held_again(t: TestShop) -> None:
    at_machine(t, b"A")
    facts = [report(b"B", b"A")]
    revision = records.submit(t.shop, t.ann, "O1000", "L1", b"B", "because", facts, setup=b"[stock]\n")
    assert records.setup_bytes(t.shop, revision.id) == b"[stock]\n"
    records.set_policy(t.shop, t.cid, b"class = 'f'\n", "tighter")
    with refused("changed_since"):
        release(t, revision)
    assert records.setup_bytes(t.shop, revision.id) == b"[stock]\n"
    assert records.setup_bytes(t.shop, records.find_revision(t.shop, "O1000", "L1", 1).id) is None


def test_a_policy_is_set_by_a_lead_with_a_reason_and_kept(t: TestShop) -> None:
    assert records.policy_bytes(t.shop) is None
    with refused("wrong_role"):
        records.set_policy(t.shop, t.ann, b"x", "x")
    with refused("reason_missing"):
        records.set_policy(t.shop, t.cid, b"x", " ")
    with refused("bad_policy"):
        records.set_policy(t.shop, t.cid, b"", "x")
    records.set_policy(t.shop, t.cid, b"x", "first")
    assert records.policy_bytes(t.shop) == b"x"
    assert records.whole_history(t.shop)[-1].act == "policy set"
    assert records.verify_ledger(t.shop.folder).ok


def test_an_older_revision_is_not_released_over_a_newer_one(t: TestShop) -> None:
    at_machine(t, b"A")
    older = submit(t, b"B", b"A")
    at_machine(t, b"C", b"A")
    with refused("older_revision"):
        records.release(t.shop, t.ann, older.id, "go", [report(b"B", b"C")])
    assert records.revision(t.shop, older.id).state == "cleared"
    again = submit(t, b"B", b"C")
    assert again.id == older.id
    release(t, again)


def test_a_newer_revision_whose_base_was_replaced_is_held_again(t: TestShop) -> None:
    at_machine(t, b"A")
    middle = submit(t, b"B", b"A")
    newer = submit(t, b"C", b"A")
    release(t, middle)
    with refused("changed_since"):
        records.release(t.shop, t.ann, newer.id, "go", [report(b"C", b"B")])
    assert "base" in records.revision(t.shop, newer.id).held_because[0]


def test_reports_against_another_base_than_the_present_one_are_refused_at_release(t: TestShop) -> None:
    at_machine(t, b"A")
    revision = submit(t, b"B", b"A")
    with refused("stale_base"):
        records.release(t.shop, t.ann, revision.id, "go", [report(b"B", b"other")])
    with refused("bad_report"):
        records.release(t.shop, t.ann, revision.id, "go", [])


def test_a_called_program_has_to_be_there_with_the_content_that_was_looked_at(t: TestShop) -> None:
    sub = at_machine(t, b"S", program="O9000")
    calls = (records.Called("o9000", sub.sha),)
    main = approve(t, submit(t, b"M", called=calls))
    release(t, main)
    wrong = approve(t, submit(t, b"N", program="O2000", called=(records.Called("O9000", digest("x")),)))
    with refused("called_not_released"):
        release(t, wrong)
    missing = approve(t, submit(t, b"P", program="O3000", called=(records.Called("O9001", digest("x")),)))
    with refused("called_not_released"):
        release(t, missing)


def test_a_called_program_is_not_replaced_under_its_callers_but_together_with_them(t: TestShop) -> None:
    sub = at_machine(t, b"S", program="O9000")
    main = at_machine(t, b"M", called=(records.Called("O9000", sub.sha),))
    new_sub = submit(t, b"S2", b"S", program="O9000")
    with refused("callers_bind_another"):
        release(t, new_sub)
    again = submit(t, b"M", b"M", called=(records.Called("O9000", new_sub.sha),), sign_off_required=True)
    assert again.id == main.id
    approve(t, again)
    items = [records.Releasing(r, records.reports(t.shop, r)) for r in (new_sub.id, main.id)]
    made = records.release_together(t.shop, t.ann, items, "both")
    assert [r.program for r in made] == ["O9000", "O1000"]
    assert {(r.program, r.n) for r in records.at_machine(t.shop, "L1")} == {("O9000", 2), ("O1000", 1)}


def test_released_together_means_all_or_none(t: TestShop) -> None:
    one = approve(t, submit(t, b"A"))
    two = submit(t, b"B", program="O2000")
    items = [records.Releasing(r.id, records.reports(t.shop, r.id)) for r in (one, two)]
    with refused("not_cleared"):
        records.release_together(t.shop, t.ann, items, "both")
    assert records.at_machine(t.shop, "L1") == () and records.revision(t.shop, one.id).state == "cleared"
    with refused("nothing"):
        records.release_together(t.shop, t.ann, [items[0], items[0]], "twice")


def test_a_program_number_that_the_machine_holds_with_other_content_is_refused(t: TestShop) -> None:
    at_machine(t, b"A", program="SHAFT", program_number=1000)
    other = approve(t, submit(t, b"B", program="O1000", program_number=1000))
    with refused("number_held"):
        release(t, other)
    silent = approve(t, submit(t, b"C", program="o1000"))
    with refused("number_held"):
        release(t, silent)
    elsewhere = approve(t, submit(t, b"B", program="O1000", program_number=1000, target="L2"))
    release(t, elsewhere)


@pytest.mark.parametrize("challenge", [[("a", "X1.")], [("a", "X1."), ("a", "X2.")], [("a", "X1."), ("b", " ")]])
def test_a_challenge_is_two_words_at_two_places(t: TestShop, challenge: list[tuple[str, str]]) -> None:
    revision = approve(t, submit(t, b"A"))
    with refused("bad_challenge"):
        records.release(t.shop, t.ann, revision.id, "go", records.reports(t.shop, revision.id), challenge)


def test_a_release_needs_a_reason(t: TestShop) -> None:
    revision = approve(t, submit(t, b"A"))
    with refused("reason_missing"):
        records.release(t.shop, t.ann, revision.id, "", records.reports(t.shop, revision.id))
    publish(t)
