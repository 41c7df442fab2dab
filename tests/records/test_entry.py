"""Acts of entry: codes, the first administrator's password, screens at machines; each in the ledger, each only once."""

from __future__ import annotations

import pytest
from argon2 import PasswordHasher
from shops import TestShop

from verifier import records
from verifier.records.database import IntegrityError
from verifier.source import ActRefused

HASH = PasswordHasher(time_cost=1, memory_cost=64, parallelism=1).hash("x")
KEYED = "$hmac-sha256,k=0123abcd" + HASH
CODE, OTHER = records.name_hash("code"), records.name_hash("other")


def refused(code: str, act: object, *arguments: object, **more: object) -> None:
    assert callable(act)
    with pytest.raises(ActRefused) as caught:
        act(*arguments, **more)
    assert caught.value.code == code


def test_a_code_sets_password_and_pin_once_and_the_ledger_tells_it(t: TestShop) -> None:
    records.give_code(t.shop, t.admin, t.dot, CODE, 600)
    refused("bad_code", records.use_code, t.shop, t.ann, CODE, password=HASH, pin=KEYED)
    refused("bad_code", records.use_code, t.shop, t.dot, OTHER, password=HASH, pin=KEYED)
    records.use_code(t.shop, t.dot, CODE, password=HASH, pin=KEYED)
    assert records.secret_hashes(t.shop, t.dot) == (HASH, KEYED)
    refused("bad_code", records.use_code, t.shop, t.dot, CODE, password=HASH, pin=KEYED)
    told = [(e.act, e.subject) for e in records.whole_history(t.shop)][-2:]
    assert told == [("code given", "dot"), ("person changed", "dot")]
    assert all(HASH not in e.body and CODE not in e.body for e in records.whole_history(t.shop))
    t.shop.close_thread()
    assert records.verify_ledger(t.shop.folder).ok


def test_a_code_is_over_in_time_and_when_another_is_given(t: TestShop) -> None:
    records.give_code(t.shop, t.admin, t.dot, CODE, 600)
    records.give_code(t.shop, t.admin, t.dot, OTHER, 600)
    refused("bad_code", records.use_code, t.shop, t.dot, CODE, password=HASH, pin=KEYED)
    t.clock.now += 601_000_000
    refused("bad_code", records.use_code, t.shop, t.dot, OTHER, password=HASH, pin=KEYED)


def test_only_an_administrator_gives_codes_and_screens(t: TestShop) -> None:
    refused("wrong_role", records.give_code, t.shop, t.cid, t.dot, CODE, 600)
    refused("wrong_role", records.add_terminal, t.shop, t.cid, "left", "L1", CODE)


def test_only_hashes_are_stored(t: TestShop) -> None:
    records.give_code(t.shop, t.admin, t.dot, CODE, 600)
    for secret in ("plain", "$hmac-sha256,k=xyz" + HASH, HASH + "\n", "$argon2i" + HASH[9:]):
        refused("bad_hash", records.use_code, t.shop, t.dot, CODE, password=secret, pin=KEYED)
        refused("bad_hash", records.set_secret_hash, t.shop, t.dot, t.dot, pin=secret)


def test_the_first_password_is_set_while_no_administrator_has_one(t: TestShop) -> None:
    records.set_secret_hash(t.shop, t.admin, t.cid, password=HASH)
    assert records.nobody_can_sign_in(t.shop)
    refused("wrong_role", records.set_first_password, t.shop, t.cid, password=HASH, pin=KEYED)
    records.set_first_password(t.shop, t.admin, password=HASH, pin=KEYED)
    assert not records.nobody_can_sign_in(t.shop)
    refused("not_first", records.set_first_password, t.shop, t.admin, password=HASH, pin=KEYED)


def test_a_screen_is_known_by_its_secret_until_it_is_taken_away(t: TestShop) -> None:
    number = records.add_terminal(t.shop, t.admin, "left one", "L1", records.name_hash("secret"))
    found = records.find_terminal(t.shop, "secret")
    assert found is not None and (found.id, found.machine) == (number, "L1")
    assert [one.name for one in records.terminals(t.shop)] == ["left one"]
    records.end_terminal(t.shop, t.admin, number)
    assert records.find_terminal(t.shop, "secret") is None and records.terminals(t.shop) == ()
    refused("unknown_terminal", records.end_terminal, t.shop, t.admin, number)
    t.shop.close_thread()
    assert records.verify_ledger(t.shop.folder).ok


@pytest.mark.parametrize(
    "statement",
    [
        "DELETE FROM code",
        "UPDATE code SET hash='" + "0" * 64 + "'",
        "UPDATE code SET ends_us=ends_us+1",
        "UPDATE code SET used_us=NULL",
        "DELETE FROM token",
        "UPDATE token SET scopes='administer'",
        "UPDATE token SET ended_us=NULL",
        "UPDATE terminal SET machine=2",
        "DELETE FROM terminal",
    ],
)
def test_guards_hold_what_was_ordered(t: TestShop, statement: str) -> None:
    records.give_code(t.shop, t.admin, t.dot, CODE, 600)
    records.use_code(t.shop, t.dot, CODE, password=HASH, pin=KEYED)
    records.make_token(t.shop, t.ann, "x", "s", ["read"], 5)
    records.end_token(t.shop, t.ann, 1)
    records.add_terminal(t.shop, t.admin, "left", "L1", OTHER)
    with pytest.raises(IntegrityError):
        t.shop.database.run(statement)


def test_a_code_put_in_beside_the_records_shows(t: TestShop) -> None:
    t.shop.database.run(
        "INSERT INTO code(person, hash, given_by, created_us, ends_us) VALUES (?,?,?,?,?)",
        t.dot,
        CODE,
        t.admin,
        1,
        1 << 52,
    )
    t.shop.close_thread()
    assert {fault.code for fault in records.verify_ledger(t.shop.folder).faults} == {"unrecorded"}
