"""The operator's statements."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from shops import CODE, TYPED, TestShop, approve, at_machine, confirm, publish, release, submit

from verifier import records
from verifier.source import ActRefused


def refused(code: str) -> pytest.RaisesExc[ActRefused]:
    return pytest.raises(ActRefused, check=lambda error: error.code == code)


def read_back(t: TestShop, revision: records.RevisionFacts, body: bytes | None = None) -> records.ReadbackFacts:
    sent = records.body(t.shop, revision.sha) if body is None else body
    differences = [] if body is None else ["block 3"]
    return records.record_readback(t.shop, t.dot, "L1", revision.id, sent, body is None, differences)


def strong(t: TestShop, revision: records.RevisionFacts, readback: int) -> records.ConfirmationFacts:
    return records.confirm_by_readback(t.shop, t.dot, "L1", revision.id, readback, reauthenticated=True)


def test_a_check_code_with_its_two_words_is_a_weak_confirmation(t: TestShop) -> None:
    done = confirm(t, at_machine(t, b"A"))
    assert (done.how, done.strength, done.operator) == ("check code", "weak", "Operator D")
    assert records.at_machine(t.shop, "L1")[0].confirmed == "weak"


def test_an_equal_read_back_is_a_strong_confirmation(t: TestShop) -> None:
    revision = at_machine(t, b"A")
    done = strong(t, revision, read_back(t, revision).id)
    assert (done.how, done.strength) == ("read-back", "strong")
    assert records.at_machine(t.shop, "L1")[0].confirmed == "strong"


@pytest.mark.parametrize("words", [("X25.", "G1"), ("x 25.0", "g01"), ("X25.000", "G1")])
def test_words_are_compared_as_a_control_spells_them(t: TestShop, words: Sequence[str]) -> None:
    confirm(t, at_machine(t, b"A"), words)


@pytest.mark.parametrize(
    "words",
    [
        ("X25", "G1"),
        ("X25.1", "G1"),
        ("G1", "X25."),
        ("X25.",),
        (),
        ("", ""),
        ("X25.", "X"),
        ("X２５.", "G1"),
        ("X25.", "G1", "G1"),
    ],
)
def test_wrong_words_are_refused_and_stay_in_the_ledger(t: TestShop, words: Sequence[str]) -> None:
    revision = at_machine(t, b"A")
    with refused("wrong_words"):
        confirm(t, revision, words)
    assert records.history(t.shop, "O1000", "L1")[-1].act == "confirmation refused"
    assert records.at_machine(t.shop, "L1")[0].confirmed is None


def test_a_wrong_check_code_is_refused_and_stays_in_the_ledger(t: TestShop) -> None:
    revision = at_machine(t, b"A")
    with refused("wrong_code"):
        records.confirm_by_check_code(t.shop, t.dot, "L1", revision.id, "ABCD2346", TYPED, reauthenticated=True)
    assert '"wrong_code"' in records.history(t.shop, "O1000", "L1")[-1].body


def test_another_revision_than_the_release_is_refused_with_an_alarm(t: TestShop) -> None:
    old = at_machine(t, b"A")
    back = read_back(t, old)
    at_machine(t, b"B", b"A")
    with refused("not_the_release"):
        confirm(t, old)
    with refused("not_the_release"):
        strong(t, old, back.id)
    acts = [entry.act for entry in records.history(t.shop, "O1000", "L1")]
    assert acts.count("confirmation refused") == 2


def test_a_critical_change_needs_a_read_back(t: TestShop) -> None:
    revision = at_machine(t, b"A", has_critical=True)
    with refused("needs_readback"):
        confirm(t, revision)
    assert strong(t, revision, read_back(t, revision).id).strength == "strong"


def test_without_picked_words_only_a_read_back_confirms(t: TestShop) -> None:
    revision = approve(t, submit(t, b"A"))
    records.release(t.shop, t.ann, revision.id, "go", records.reports(t.shop, revision.id))
    publish(t)
    with refused("needs_readback"):
        confirm(t, revision)


def test_nothing_is_confirmed_before_the_file_is_at_the_machine(t: TestShop) -> None:
    revision = approve(t, submit(t, b"A"))
    release(t, revision)
    with refused("not_at_machine"):
        confirm(t, revision)


def test_a_read_back_of_another_revision_program_or_machine_confirms_nothing(t: TestShop) -> None:
    other = at_machine(t, b"Z", program="O2000")
    revision = at_machine(t, b"A")
    with refused("readback_of_another"):
        strong(t, revision, read_back(t, other).id)
    with refused("unknown_readback"):
        strong(t, revision, 99)
    with refused("readback_of_another"):
        records.record_readback(t.shop, t.dot, "L2", revision.id, b"A", True, [])


def test_a_read_back_that_differs_confirms_nothing_and_marks_drift_until_one_is_equal(t: TestShop) -> None:
    revision = at_machine(t, b"A")
    back = read_back(t, revision, b"A with an edit")
    with refused("readback_differs"):
        strong(t, revision, back.id)
    assert [d.id for d in records.drifted(t.shop)] == [back.id]
    assert records.body(t.shop, back.sha) == b"A with an edit"
    read_back(t, revision)
    assert records.drifted(t.shop) == ()


def test_a_read_back_taken_before_the_release_confirms_nothing(t: TestShop) -> None:
    old = at_machine(t, b"A")
    early = read_back(t, old)
    again = submit(t, b"A", b"A", tool_version="0.2.0")
    release(t, again)
    publish(t)
    with refused("readback_before_release"):
        strong(t, again, early.id)


def test_a_read_back_confirms_once(t: TestShop) -> None:
    revision = at_machine(t, b"A")
    back = read_back(t, revision)
    strong(t, revision, back.id)
    with refused("readback_used"):
        strong(t, revision, back.id)


def test_an_empty_or_contradictory_read_back_is_refused(t: TestShop) -> None:
    revision = at_machine(t, b"A")
    with refused("empty"):
        read_back(t, revision, b"")
    with refused("bad_readback"):
        records.record_readback(t.shop, t.dot, "L1", revision.id, b"B", True, ["block 1"])
    with refused("bad_readback"):
        records.record_readback(t.shop, t.dot, "L1", revision.id, b"A", False, ["block 1"])


def test_a_confirmation_is_an_operators_and_asks_again_who_it_is(t: TestShop) -> None:
    revision = at_machine(t, b"A")
    with refused("wrong_role"):
        records.confirm_by_check_code(t.shop, t.cid, "L1", revision.id, CODE, TYPED, reauthenticated=True)
    with refused("sign_in_again"):
        records.confirm_by_check_code(t.shop, t.dot, "L1", revision.id, CODE, TYPED, reauthenticated=False)
    with refused("wrong_role"):
        records.record_readback(t.shop, t.ann, "L1", revision.id, b"A", True, [])


def test_the_record_says_whether_what_the_machine_held_before_was_read_back(t: TestShop) -> None:
    first = at_machine(t, b"A")
    assert confirm(t, first).held_before == "nothing was released here before"
    second = at_machine(t, b"B", b"A")
    assert confirm(t, second).held_before == "what this machine held is not verified"
    third = at_machine(t, b"C", b"B")
    read_back(t, second)
    assert confirm(t, third).held_before == "what this machine held was read back"


def test_on_a_machine_that_runs_from_its_folder_the_file_waits_for_the_take_over(t: TestShop) -> None:
    records.add_machine(t.shop, t.admin, "L9", profile=b"x", folder="machines/L9", takeover=True)
    revision = approve(t, submit(t, b"A", target="L9"))
    release(t, revision)
    assert records.pending_jobs(t.shop) == ()
    with refused("wrong_role"):
        records.take_over(t.shop, t.ann, "L9", revision.id)
    records.take_over(t.shop, t.dot, "L9", revision.id)
    assert [j.machine.name for j in records.pending_jobs(t.shop)] == ["L9"]
    with refused("nothing_waits"):
        records.take_over(t.shop, t.dot, "L9", revision.id)
