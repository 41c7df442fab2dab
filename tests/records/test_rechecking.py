"""Checked again: a held revision on a new report, still held, still its author's, and with nothing signed yet."""

from __future__ import annotations

import json
from hashlib import sha256

import pytest
from shops import TestShop, approve, at_machine, confirm, digest, release, report, submit

from verifier import records
from verifier.records import RevisionFacts
from verifier.source import ActRefused

NEEDS = {"sign_off_required": True, "sign_off_reasons": ("feed",)}


def refused(code: str) -> pytest.RaisesExc[ActRefused]:
    return pytest.raises(ActRefused, check=lambda error: error.code == code)


def waiting(t: TestShop) -> RevisionFacts:
    """B is confirmed while C waits: the report on C tells the total since A, which is no longer what is proven."""
    confirm(t, at_machine(t, b"A"))
    second = at_machine(t, b"B", b"A")
    third = submit(t, b"C", b"B", proven=b"A", **NEEDS)
    assert records.outdated(t.shop, third.id) == ()
    confirm(t, second)
    return third


def test_a_waiting_revision_is_decided_on_after_it_was_checked_again(t: TestShop) -> None:
    third = waiting(t)
    assert records.outdated(t.shop, third.id) == ("proven revision",)
    with refused("stale_proven") as caught:
        approve(t, third)
    assert "checked again" in caught.value.hint
    now = records.check_again(t.shop, t.ben, third.id, [report(b"C", b"B", **NEEDS)])
    assert (now.state, now.authors, now.reason) == ("held", ("ann",), "because")
    assert now.held_because == ("checked again, because this changed: proven revision", "feed")
    assert now.report_digest != third.report_digest and records.outdated(t.shop, third.id) == ()
    entry = records.history(t.shop, "O1000", "L1")[-1]
    noted = json.loads(entry.body)
    assert (entry.act, entry.person, noted["changed"]) == (
        "checked again",
        "Programmer and Lead B",
        ["proven revision"],
    )
    assert (noted["before"], noted["report"]) == (third.report_digest, now.report_digest)
    release(t, approve(t, now, t.ben))
    assert records.verify_ledger(t.shop.folder).ok


def test_what_was_read_on_the_old_page_is_signed_by_nobody(t: TestShop) -> None:
    third = waiting(t)
    records.check_again(t.shop, t.ann, third.id, [report(b"C", b"B", **NEEDS)])
    with refused("stale_report"):
        approve(t, third)
    assert records.revision(t.shop, third.id).state == "held"


def test_a_decision_on_an_earlier_report_does_not_count_for_the_new_one(t: TestShop) -> None:
    """Cleared, held again at the release, then checked again under the policy of the first report: nothing is signed."""
    at_machine(t, b"A")
    second = submit(t, b"B", b"A", **NEEDS)
    signed = approve(t, second)
    with refused("changed_since"):
        records.release(t.shop, t.ann, second.id, "go", [report(b"B", b"A", policy_digest=digest("p2"), **NEEDS)])
    back = records.check_again(t.shop, t.cid, second.id, [report(b"B", b"A", **NEEDS)])
    assert back.report_digest == second.report_digest == signed.report_digest
    assert back.state == "held" and back.held_because[0] == "checked again, because this changed: policy, change report"
    with refused("not_cleared"):
        release(t, back)
    release(t, approve(t, back))


@pytest.mark.parametrize("needs", [{}, NEEDS], ids=["no lead by itself", "a lead"])
def test_it_stays_held_whatever_the_new_report_says(t: TestShop, needs: dict[str, object]) -> None:
    third = waiting(t)
    now = records.check_again(t.shop, t.ann, third.id, [report(b"C", b"B", **needs)])
    assert now.state == "held"
    with refused("not_cleared"):
        release(t, now)


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
def test_the_ledger_names_what_changed(t: TestShop, change: dict[str, object], word: str) -> None:
    revision = submit(t, b"A")
    now = records.check_again(t.shop, t.ann, revision.id, [report(b"A", **change)])
    noted = json.loads(records.history(t.shop, "O1000", "L1")[-1].body)
    assert word in noted["changed"] and word in now.held_because[0] and "first submission" in now.held_because


def test_a_profile_and_a_policy_that_were_replaced_are_told_without_a_new_report(t: TestShop) -> None:
    revision = submit(t, b"A")
    records.change_profile(t.shop, t.admin, "L1", b"kind = 'lathe'\n# more\n", "worn spindle")
    records.set_policy(t.shop, t.cid, b"name = 'p'\n", "stricter")
    assert records.outdated(t.shop, revision.id) == ("machine profile", "policy")
    now = records.check_again(t.shop, t.ann, revision.id, [report(b"A")])
    assert now.report_digest == revision.report_digest, "these reports are made to order, and say the same"
    assert "machine profile, policy" in now.held_because[0] and records.outdated(t.shop, revision.id) == ()


def test_the_same_report_again_is_refused_with_words_and_nothing_is_written(t: TestShop) -> None:
    revision, size = submit(t, b"A"), records.checkpoint(t.shop).size
    with refused("report_fits") as caught:
        records.check_again(t.shop, t.ann, revision.id, [report(b"A")])
    assert "has changed" in caught.value.message and records.checkpoint(t.shop).size == size


def test_of_two_who_check_again_the_second_is_told_that_it_fits(t: TestShop) -> None:
    third, now = waiting(t), [report(b"C", b"B", **NEEDS)]
    records.check_again(t.shop, t.ann, third.id, now)
    with refused("report_fits"):
        records.check_again(t.shop, t.cid, third.id, now)
    assert [one.act for one in records.history(t.shop, "O1000", "L1")].count("checked again") == 1


def test_a_report_computed_before_the_machine_held_something_else_is_refused(t: TestShop) -> None:
    third = waiting(t)
    late = [report(b"C", b"B", **NEEDS)]
    at_machine(t, b"D", b"B")
    with refused("stale_base"):
        records.check_again(t.shop, t.ann, third.id, late)
    assert records.outdated(t.shop, third.id) == ("base",)
    now = records.check_again(
        t.shop, t.ann, third.id, [report(b"C", b"D", proven_sha=sha256(b"B").hexdigest(), **NEEDS)]
    )
    assert now.base_shas == (sha256(b"D").hexdigest(),)


def test_what_is_not_held_is_not_checked_again(t: TestShop) -> None:
    other = [report(b"A", digest=digest("x"))]
    revision = submit(t, b"A")
    approve(t, revision)
    for state, step in (
        ("cleared", lambda: None),
        ("released", lambda: release(t, revision)),
        ("recalled", lambda: records.recall(t.shop, t.cid, revision.id, "bad")),
    ):
        step()
        assert records.revision(t.shop, revision.id).state == state
        with refused("not_held") as caught:
            records.check_again(t.shop, t.ann, revision.id, other)
        assert state in caught.value.message
    gone = submit(t, b"B")
    records.withdraw(t.shop, t.ann, gone.id, "not yet")
    with refused("not_held"):
        records.check_again(t.shop, t.ann, gone.id, other)
    with refused("unknown_revision"):
        records.check_again(t.shop, t.ann, 999, other)


def test_a_programmer_or_a_lead_checks_again_and_the_author_still_signs_nothing(t: TestShop) -> None:
    mine = submit(t, b"A", author=t.ben)
    for who in (t.dot, t.admin):
        with refused("wrong_role"):
            records.check_again(t.shop, who, mine.id, [report(b"A", digest=digest("x"))])
    now = records.check_again(t.shop, t.cid, mine.id, [report(b"A", digest=digest("x"))])
    with refused("own_revision"):
        approve(t, now, t.ben)
    with refused("not_the_author"):
        records.withdraw(t.shop, t.cid, mine.id, "not mine")
    assert approve(t, now, t.cid).state == "cleared", "who checked again is no author, and may sign"


def test_that_it_was_turned_back_before_is_not_forgotten(t: TestShop) -> None:
    at_machine(t, b"A")
    second = submit(t, b"B", b"A", **NEEDS)
    records.decide(t.shop, t.cid, second.id, "turn back", "no", second.report_digest, reauthenticated=True)
    again = submit(t, b"B", b"A")
    assert again.held_because == ("was turned back before",)
    for number in range(2):
        now = records.check_again(t.shop, t.ann, again.id, [report(b"B", b"A", rules_digest=digest(f"r{number}"))])
        assert now.held_because == (
            "checked again, because this changed: rules, change report",
            "was turned back before",
        )


def test_the_setup_sheet_stays_with_the_revision(t: TestShop) -> None:
    made = records.submit(t.shop, t.ann, "O1000", "L1", b"A", "r", [report(b"A")], setup=b"name = 's'\n")
    records.check_again(t.shop, t.cid, made.id, [report(b"A", rules_digest=digest("x"))])
    assert records.setup_bytes(t.shop, made.id) == b"name = 's'\n"


def test_a_group_whose_machines_need_a_report_each_is_checked_again_on_all_of_them(t: TestShop) -> None:
    first = at_machine(t, b"A", target="PAIR")
    second = submit(t, b"B", b"A", target="PAIR", **NEEDS)
    records.confirm_by_check_code(t.shop, t.dot, "L2", first.id, "ABCD2345", ("X25.", "G1"), reauthenticated=True)
    assert records.outdated(t.shop, second.id) == (), "proven is what is the base, too"
    at_machine(t, b"C", b"A", target="PAIR")
    assert records.outdated(t.shop, second.id) == ("base",)
    proven = sha256(b"A").hexdigest()
    with refused("stale_proven"):
        records.check_again(t.shop, t.ann, second.id, [report(b"B", b"C", **NEEDS)])
    both = [report(b"B", b"C", proven_sha=proven, **NEEDS), report(b"B", b"C", **NEEDS)]
    now = records.check_again(t.shop, t.ann, second.id, both)
    assert [one.proven_sha for one in records.reports(t.shop, now.id)] == [None, proven]
