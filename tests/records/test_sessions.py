"""Sessions and tokens as the records keep them: hashes only, ended by idleness, age, and whatever they rest on."""

from __future__ import annotations

import pytest
from argon2 import PasswordHasher
from hypothesis import given
from hypothesis import strategies as st
from shops import TestShop

from verifier import records
from verifier.records import SessionLimits
from verifier.source import ActRefused

LIMITS = SessionLimits(idle_s=900, total_s=43200)
SECOND = 1_000_000


def test_a_session_is_found_by_its_name_and_by_no_other(t: TestShop) -> None:
    made = records.begin_session(t.shop, t.ann, "name-1", LIMITS)
    found = records.find_session(t.shop, "name-1", LIMITS)
    assert found is not None and (found.id, found.person.login) == (made.id, "ann")
    for other in ("name-2", "", records.name_hash("name-1"), "name-1 ", "\udcff"):
        assert records.find_session(t.shop, other, LIMITS) is None


def test_idle_and_total_time_end_a_session_for_good(t: TestShop) -> None:
    records.begin_session(t.shop, t.ann, "a", LIMITS)
    t.clock.now += 899 * SECOND
    assert records.find_session(t.shop, "a", LIMITS) is not None
    t.clock.now += 901 * SECOND
    assert records.find_session(t.shop, "a", LIMITS) is None
    t.clock.now -= 901 * SECOND
    assert records.find_session(t.shop, "a", LIMITS) is None


def test_whoever_looks_at_it_a_session_never_outlives_its_age(t: TestShop) -> None:
    begun = records.begin_session(t.shop, t.ann, "a", LIMITS)
    while t.clock.now < begun.ends_us - 600 * SECOND:
        assert records.find_session(t.shop, "a", LIMITS) is not None
        t.clock.now += 600 * SECOND
    t.clock.now += 600 * SECOND
    assert records.find_session(t.shop, "a", LIMITS) is None


def test_what_a_session_rests_on_ends_it_when_it_changes(t: TestShop) -> None:
    stored = PasswordHasher(time_cost=1, memory_cost=64, parallelism=1).hash("x")
    for name, change in (
        ("password", lambda: records.set_secret_hash(t.shop, t.admin, t.ann, password=stored)),
        ("roles", lambda: records.change_person(t.shop, t.admin, t.ann, roles=["lead"], reason="r")),
        ("left", lambda: records.change_person(t.shop, t.admin, t.ann, active=False, reason="r")),
    ):
        records.begin_session(t.shop, t.ann, name, LIMITS)
        records.begin_session(t.shop, t.ben, name + "-ben", LIMITS)
        change()
        assert records.find_session(t.shop, name, LIMITS) is None
        assert records.find_session(t.shop, name + "-ben", LIMITS) is not None


def test_a_pin_alone_ends_no_session(t: TestShop) -> None:
    stored = PasswordHasher(time_cost=1, memory_cost=64, parallelism=1).hash("x")
    records.begin_session(t.shop, t.ann, "a", LIMITS)
    records.set_secret_hash(t.shop, t.admin, t.ann, pin=stored)
    assert records.find_session(t.shop, "a", LIMITS) is not None


def test_sessions_are_no_acts_and_the_ledger_still_verifies(t: TestShop) -> None:
    before = records.checkpoint(t.shop)
    records.begin_session(t.shop, t.ann, "a", LIMITS)
    records.begin_session(t.shop, t.ann, "b", LIMITS, leaving="a")
    assert records.find_session(t.shop, "a", LIMITS) is None
    assert records.end_sessions_of(t.shop, t.ann) == 1
    assert records.checkpoint(t.shop) == before
    t.shop.close_thread()
    assert records.verify_ledger(t.shop.folder).ok


def test_sessions_that_are_over_do_not_gather(t: TestShop) -> None:
    for k in range(5):
        records.begin_session(t.shop, t.ann, f"a{k}", LIMITS)
        t.clock.now += 50_000 * SECOND
    assert t.shop.database.value("SELECT count(*) FROM session") == 1


def test_a_token_is_kept_as_a_hash_and_is_an_act(t: TestShop) -> None:
    made = records.make_token(t.shop, t.ann, "nightly", "secret-1", ["submit", "read"], 30)
    assert made.scopes == ("read", "submit")
    assert "secret-1" not in str(t.shop.database.rows("SELECT * FROM token"))
    assert records.whole_history(t.shop)[-1].act == "token made"
    assert "secret-1" not in records.whole_history(t.shop)[-1].body
    found = records.find_token(t.shop, "secret-1")
    assert found is not None and found.person.login == "ann"
    t.shop.close_thread()
    assert records.verify_ledger(t.shop.folder).ok


@pytest.mark.parametrize(
    ("scopes", "days", "code"),
    [([], 5, "bad_scope"), (["all"], 5, "bad_scope"), (["read"], 0, "bad_days"), (["read"], 367, "bad_days")],
)
def test_a_token_without_bounds_is_refused(t: TestShop, scopes: list[str], days: int, code: str) -> None:
    with pytest.raises(ActRefused) as caught:
        records.make_token(t.shop, t.ann, "x", "s", scopes, days)
    assert caught.value.code == code


def test_an_administrator_makes_for_others_only_what_reads(t: TestShop) -> None:
    for scopes in (["submit"], ["read", "decide"], list(records.SCOPES)):
        with pytest.raises(ActRefused, check=lambda error: error.code == "reads_only"):
            records.make_token(t.shop, t.ann, "x", "s", scopes, 5, by=t.admin)
    with pytest.raises(ActRefused, check=lambda error: error.code == "wrong_role"):
        records.make_token(t.shop, t.ann, "x", "s", ["read"], 5, by=t.cid)
    assert records.all_tokens(t.shop) == ()
    made = records.make_token(t.shop, t.ann, "x", "s", ["read"], 5, by=t.admin)
    own = records.make_token(t.shop, t.ann, "y", "s2", ["decide"], 5, by=t.ann)
    assert records.all_tokens(t.shop) == (made, own) == records.tokens_of(t.shop, t.ann)


def test_a_token_ends_by_its_person_or_an_administrator_only_and_once(t: TestShop) -> None:
    made = records.make_token(t.shop, t.ann, "x", "s", ["read"], 5)
    with pytest.raises(ActRefused):
        records.end_token(t.shop, t.ben, made.id)
    records.end_token(t.shop, t.admin, made.id)
    assert records.find_token(t.shop, "s") is None
    with pytest.raises(ActRefused):
        records.end_token(t.shop, t.ann, made.id)


@given(st.text(max_size=80))
def test_a_name_is_kept_as_the_digest_of_its_bytes(name: str) -> None:
    from hashlib import sha256

    assert records.name_hash(name) == sha256(name.encode("utf-8", "surrogatepass")).hexdigest()
