"""Handing in: what is held, what is cleared, what is refused."""

from __future__ import annotations

from hashlib import sha256

import pytest
from shops import TestShop, approve, at_machine, digest, go_back, publish, release, report, submit

from verifier import records
from verifier.records import submitting
from verifier.source import ActRefused


def refused(code: str) -> pytest.RaisesExc[ActRefused]:
    return pytest.raises(ActRefused, check=lambda error: error.code == code)


def test_a_first_submission_is_held_even_when_the_report_asks_for_nobody(t: TestShop) -> None:
    revision = submit(t, b"A")
    assert (revision.n, revision.state, revision.held_because) == (1, "held", ("first submission",))
    assert revision.sha == sha256(b"A").hexdigest()


def test_a_change_that_needs_no_lead_is_cleared_at_once(t: TestShop) -> None:
    at_machine(t, b"A")
    revision = submit(t, b"B", b"A")
    assert (revision.n, revision.state, revision.held_because) == (2, "cleared", ())


def test_a_change_that_needs_a_lead_is_held_with_the_reports_reasons(t: TestShop) -> None:
    at_machine(t, b"A")
    revision = submit(t, b"B", b"A", sign_off_required=True, sign_off_reasons=("speed-clamp-removed", "S"))
    assert (revision.state, revision.held_because) == ("held", ("speed-clamp-removed", "S"))


def test_undetermined_is_held_even_when_the_report_asks_for_nobody(t: TestShop) -> None:
    at_machine(t, b"A")
    revision = submit(t, b"B", b"A", verdict="undetermined")
    assert (revision.state, revision.held_because) == ("held", ("undetermined",))


def test_a_report_against_another_base_is_refused_and_nothing_is_stored(t: TestShop) -> None:
    at_machine(t, b"A")
    before = len(records.whole_history(t.shop))
    with refused("stale_base"):
        submit(t, b"B", b"not A")
    with refused("stale_base"):
        submit(t, b"B", None)
    assert len(records.whole_history(t.shop)) == before
    with refused("unknown_content"):
        records.body(t.shop, sha256(b"B").hexdigest())


def test_known_bytes_reopen_their_revision_with_the_new_report(t: TestShop) -> None:
    at_machine(t, b"A")
    first = submit(t, b"B", b"A", sign_off_required=True)
    records.withdraw(t.shop, t.ann, first.id, "not yet")
    again = submit(t, b"B", b"A", author=t.ben, policy_digest=digest("other policy"))
    assert (again.id, again.n, again.state) == (first.id, first.n, "cleared")
    assert again.report_digest != first.report_digest
    assert again.authors == ("ann", "ben")


def test_bytes_that_were_turned_back_are_held_when_they_come_again(t: TestShop) -> None:
    at_machine(t, b"A")
    revision = submit(t, b"B", b"A", sign_off_required=True)
    seen = revision.report_digest
    records.decide(t.shop, t.cid, revision.id, "turn back", "no", seen, reauthenticated=True)
    again = submit(t, b"B", b"A")
    assert (again.state, again.held_because) == ("held", ("was turned back before",))


def test_bytes_that_were_recalled_are_held_when_they_come_again_and_are_no_base(t: TestShop) -> None:
    at_machine(t, b"A")
    bad = at_machine(t, b"B", b"A")
    records.recall(t.shop, t.cid, bad.id, "it hit the chuck")
    assert records.base_shas(t.shop, "O1000", "L1") == (sha256(b"A").hexdigest(),)
    again = submit(t, b"B", b"A")
    assert (again.id, again.state, again.held_because) == (bad.id, "held", ("was recalled before",))
    assert records.base_shas(t.shop, "O1000", "L1") == (sha256(b"A").hexdigest(),)


def test_what_is_released_there_already_cannot_be_submitted_again_unless_what_it_rests_on_changed(t: TestShop) -> None:
    revision = at_machine(t, b"A")
    with refused("already_released"):
        submit(t, b"A", b"A")
    again = submit(t, b"A", b"A", machine_digest=digest("new profile"))
    assert (again.id, again.state) == (revision.id, "cleared")
    assert [r.revision for r in records.at_machine(t.shop, "L1")] == [revision.id]


def test_turning_back_a_reopened_revision_leaves_its_standing_release_as_it_was(t: TestShop) -> None:
    revision = at_machine(t, b"A")
    again = submit(t, b"A", b"A", machine_digest=digest("new profile"), sign_off_required=True)
    seen = again.report_digest
    after = records.decide(t.shop, t.cid, revision.id, "turn back", "no", seen, reauthenticated=True)
    assert after.state == "released"


@pytest.mark.parametrize(
    "name", ["", "../x", "/abs", "C:", "a\0b", "O1.", "O1 ", "a b", "Ｏ１", "x" * 33, "-a", "_a", "a/b"]
)
def test_a_program_name_that_is_no_plain_word_is_refused(t: TestShop, name: str) -> None:
    with refused("bad_name"):
        submit(t, b"A", program=name)


@pytest.mark.parametrize("name", ["CON", "con", "NUL", "Aux", "PRN", "COM1", "com9", "LPT1", "lpt9"])
def test_the_name_of_a_device_is_refused_on_every_platform(t: TestShop, name: str) -> None:
    with refused("bad_name"):
        submit(t, b"A", program=name)


@pytest.mark.parametrize("name", ["CON.NC", "nul.txt", "CONIN$", "CONOUT$.NC", "COM\u00b9.NC", "aux.tar.gz", "CON .NC"])
def test_a_device_name_is_seen_behind_any_extension(name: str) -> None:
    assert records.is_reserved(name)


@pytest.mark.parametrize("name", ["O0", "O00000000", "O123456789"])
def test_a_program_number_that_no_control_takes_is_refused(t: TestShop, name: str) -> None:
    with refused("bad_name"):
        submit(t, b"A", program=name)


@pytest.mark.parametrize("other", ["o1000", "O01000", "o00001000"])
def test_two_spellings_of_one_program_number_are_one_program(t: TestShop, other: str) -> None:
    submit(t, b"A", program="O1000")
    assert (submit(t, b"B", program=other).program, submit(t, b"B", program=other).n) == ("O1000", 2)


def test_names_that_differ_in_case_only_are_one_program(t: TestShop) -> None:
    submit(t, b"A", program="Shaft-1")
    assert submit(t, b"B", program="SHAFT-1").n == 2


def test_a_machine_in_a_group_cannot_get_a_program_of_its_own_under_the_groups_number(t: TestShop) -> None:
    submit(t, b"A", target="PAIR")
    with refused("number_held"):
        submit(t, b"B", target="L2")
    submit(t, b"B", program="O2000", target="L2")
    with refused("number_held"):
        submit(t, b"A", program="o2000", target="PAIR")


@pytest.mark.parametrize("reason", ["", "  ", "\n\t"])
def test_a_reason_is_required(t: TestShop, reason: str) -> None:
    with refused("reason_missing"):
        records.submit(t.shop, t.ann, "O1", "L1", b"A", reason, [report(b"A")])


def test_roles_decide_who_may_submit(t: TestShop) -> None:
    with refused("wrong_role"):
        submit(t, b"A", author=t.dot)
    with refused("wrong_role"):
        submit(t, b"A", author=t.admin)
    with refused("unknown_person"):
        submit(t, b"A", author=999)


def test_an_operator_may_submit_what_the_control_sent_back(t: TestShop) -> None:
    revision = at_machine(t, b"A")
    records.record_readback(t.shop, t.dot, "L1", revision.id, b"A edited", False, ["block 3"])
    assert submit(t, b"A edited", b"A", author=t.dot).authors == ("dot",)


def test_somebody_who_has_left_can_do_nothing(t: TestShop) -> None:
    records.change_person(t.shop, t.admin, t.ann, active=False, reason="left")
    with refused("unknown_person"):
        submit(t, b"A")


def test_only_an_author_withdraws_and_only_before_release(t: TestShop) -> None:
    revision = submit(t, b"A")
    with refused("not_the_author"):
        records.withdraw(t.shop, t.ben, revision.id, "mine now")
    assert records.withdraw(t.shop, t.ann, revision.id, "wrong file").state == "withdrawn"
    with refused("wrong_state"):
        records.withdraw(t.shop, t.ann, revision.id, "again")
    released = at_machine(t, b"B")
    with refused("wrong_state"):
        records.withdraw(t.shop, t.ann, released.id, "late")


def test_without_reports_a_revision_waits_as_submitted_until_they_come(t: TestShop) -> None:
    revision = records.submit(t.shop, t.ann, "O1000", "L1", b"A", "because")
    assert revision.state == "submitted"
    with refused("not_held"):
        records.decide(t.shop, t.cid, revision.id, "approve", "ok", revision.report_digest, reauthenticated=True)
    assert records.report_on(t.shop, revision.id, [report(b"A")]).state == "held"
    with refused("not_waiting"):
        records.report_on(t.shop, revision.id, [report(b"A")])


def test_machines_of_a_group_that_hold_different_bases_need_a_report_each(t: TestShop) -> None:
    first = at_machine(t, b"A", target="PAIR")
    records.confirm_by_check_code(t.shop, t.dot, "L2", first.id, "ABCD2345", ("X25.", "G1"), reauthenticated=True)
    at_machine(t, b"B", b"A", target="PAIR")
    go_back(t, t.dot, "O1000", "L2", "chatter")
    assert set(records.base_shas(t.shop, "O1000", "PAIR")) == {sha256(b"A").hexdigest(), sha256(b"B").hexdigest()}
    with refused("stale_base"):
        submit(t, b"C", b"B", target="PAIR")
    both = [report(b"C", b"A"), report(b"C", b"B", sign_off_required=True, sign_off_reasons=("feed-raised",))]
    revision = records.submit(t.shop, t.ann, "O1000", "PAIR", b"C", "because", both)
    assert (revision.state, revision.held_because) == ("held", ("feed-raised",))
    with refused("stale_report"):
        records.decide(t.shop, t.cid, revision.id, "approve", "ok", both[0].digest, reauthenticated=True)
    release(t, approve(t, revision))
    publish(t)
    assert {r.revision for m in ("L2", "L3") for r in records.at_machine(t.shop, m)} == {revision.id}


def test_a_machine_that_joins_the_group_later_has_its_own_first_submission(t: TestShop) -> None:
    at_machine(t, b"A", target="PAIR")
    records.add_machine(t.shop, t.admin, "L4", profile=b"x", folder="machines/L4", group="PAIR")
    both = [report(b"B", None), report(b"B", b"A")]
    revision = records.submit(t.shop, t.ann, "O1000", "PAIR", b"B", "because", both)
    assert revision.held_because == ("first submission at L4",)


@pytest.mark.parametrize(
    "change",
    [
        {"verdict": "fine"},
        {"policy_digest": "x"},
        {"check_code": "ABCD1234"},
        {"check_code": ""},
        {"json": b""},
        {"tool_version": ""},
    ],
)
def test_a_report_that_lacks_something_is_refused(t: TestShop, change: dict[str, object]) -> None:
    with refused("bad_report"):
        submit(t, b"A", **change)


@pytest.mark.parametrize("machine", ["L\ud800", "L\0", "", "L1; DROP TABLE ledger", "x" * 10_000])
def test_a_machine_that_cannot_be_is_refused_like_one_that_is_not(t: TestShop, machine: str) -> None:
    with pytest.raises(ActRefused):
        submit(t, b"A", target=machine)


def test_a_number_beyond_all_rows_is_refused(t: TestShop) -> None:
    for number in (0, -1, 2**63, 10**30):
        with pytest.raises(ActRefused):
            records.recall(t.shop, t.cid, number, "x")
        with pytest.raises(ActRefused):
            records.revision(t.shop, number)
    assert records.whole_history(t.shop, most=-1) == ()


def test_an_empty_or_an_oversized_program_is_refused(t: TestShop, monkeypatch: pytest.MonkeyPatch) -> None:
    with refused("empty"):
        submit(t, b"")
    monkeypatch.setattr(submitting, "SIZE_LIMIT", 10)
    with refused("too_large"):
        submit(t, b"x" * 11)
    submit(t, b"x" * 10)


def test_known_bytes_come_again_with_their_report_only(t: TestShop) -> None:
    submit(t, b"A")
    with refused("known_bytes"):
        records.submit(t.shop, t.ann, "O1000", "L1", b"A", "because")


def test_what_lies_at_a_machine_from_its_prove_out_is_recalled_and_not_withdrawn(t: TestShop) -> None:
    revision = submit(t, b"A")
    seen = revision.report_digest
    records.decide(t.shop, t.cid, revision.id, "prove-out", "try", seen, reauthenticated=True, machine="L1", days=1)
    publish(t)
    records.confirm_prove_out(t.shop, t.dot, "L1", revision.id, readings="25.01", reauthenticated=True)
    with refused("at_machine"):
        records.withdraw(t.shop, t.ann, revision.id, "not good after all")
    assert records.recall(t.shop, t.cid, revision.id, "not good after all").machines == ("L1",)


def test_reports_of_one_submission_are_about_one_revision_and_each_its_own_base(t: TestShop) -> None:
    at_machine(t, b"A")
    one, other = report(b"B", b"A"), report(b"B", b"A", check_code="ZZZZ9999")
    with refused("bad_report"):
        records.submit(t.shop, t.ann, "O1000", "L1", b"B", "because", [one, one])
    with refused("bad_report"):
        records.submit(t.shop, t.ann, "O1000", "L1", b"B", "because", [one, other])


def test_a_reason_has_an_end(t: TestShop) -> None:
    with refused("bad_text"):
        records.submit(t.shop, t.ann, "O1", "L1", b"A", "x" * 2001, [report(b"A")])
