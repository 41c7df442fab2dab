"""People and machines: who and what the shop knows."""

from __future__ import annotations

import pytest
from argon2 import PasswordHasher
from shops import TestShop, at_machine

from verifier import records
from verifier.source import ActRefused


def refused(code: str) -> pytest.RaisesExc[ActRefused]:
    return pytest.raises(ActRefused, check=lambda error: error.code == code)


def test_only_an_administrator_adds_people_and_machines(t: TestShop) -> None:
    for who in (t.ann, t.ben, t.dot):
        with refused("wrong_role"):
            records.add_person(t.shop, who, "new", "New One", ["lead"])
        with refused("wrong_role"):
            records.add_machine(t.shop, who, "L8", profile=b"x", folder="machines/L8")


def test_one_person_has_one_login(t: TestShop) -> None:
    with refused("name_taken"):
        records.add_person(t.shop, t.admin, "cid", "Another", ["lead"])
    with refused("name_taken"):
        records.add_person(t.shop, t.admin, "cid2", "  lead   c ", ["lead"])


@pytest.mark.parametrize("login", ["", "A", "a b", "../x", "a\n", "x" * 33, "é"])
def test_a_login_is_a_plain_word(t: TestShop, login: str) -> None:
    with refused("bad_name"):
        records.add_person(t.shop, t.admin, login, "Somebody", ["lead"])


def test_roles_are_the_four_and_at_least_one(t: TestShop) -> None:
    for roles in ([], ["boss"]):
        with refused("bad_role"):
            records.add_person(t.shop, t.admin, "new", "Somebody", roles)


def test_a_full_name_shows_as_it_is_written(t: TestShop) -> None:
    with refused("bad_text"):
        records.add_person(t.shop, t.admin, "new", "Some\x1b[31mbody", ["lead"])
    with refused("bad_text"):
        records.add_person(t.shop, t.admin, "new", "  ", ["lead"])


def test_roles_change_at_once_and_the_last_administrator_stays(t: TestShop) -> None:
    after = records.change_person(t.shop, t.admin, t.ann, roles=["lead", "programmer"], reason="promoted")
    assert after.roles == ("programmer", "lead")
    with refused("last_administrator"):
        records.change_person(t.shop, t.admin, t.admin, roles=["lead"], reason="x")
    with refused("last_administrator"):
        records.change_person(t.shop, t.admin, t.admin, active=False, reason="x")
    assert records.find_person(t.shop, "admin").roles == ("administrator",)


def test_a_secret_is_stored_as_its_argon2id_hash_only_and_never_in_the_ledger(t: TestShop) -> None:
    hashed = PasswordHasher(time_cost=1, memory_cost=64, parallelism=1).hash("correct horse")
    with refused("bad_hash"):
        records.set_secret_hash(t.shop, t.ann, t.ann, password="correct horse")
    with refused("wrong_role"):
        records.set_secret_hash(t.shop, t.ben, t.ann, password=hashed)
    records.set_secret_hash(t.shop, t.ann, t.ann, password=hashed)
    records.set_secret_hash(t.shop, t.admin, t.ann, pin=hashed)
    assert records.secret_hashes(t.shop, t.ann) == (hashed, hashed)
    assert all("argon2" not in entry.body for entry in records.whole_history(t.shop))


@pytest.mark.parametrize(
    ("name", "folder", "group", "code"),
    [
        ("L1", "machines/X", None, "name_taken"),
        ("l1", "machines/X", None, "name_taken"),
        ("PAIR", "machines/X", None, "name_taken"),
        ("L8", "machines/X", "L1", "name_taken"),
        ("L8", "machines/X", "L8", "name_taken"),
        ("NUL", "machines/X", None, "bad_name"),
        ("a/b", "machines/X", None, "bad_name"),
        ("L8", "machines/L1", None, "bad_folder"),
        ("L8", "machines/./l1/", None, "bad_folder"),
        ("L8", "machines/L1.manifest", None, "bad_folder"),
        ("L8", "../out", None, "bad_folder"),
        ("L8", "", None, "bad_folder"),
        ("L8", " machines/X", None, "bad_folder"),
        ("L8", "machines/X\0", None, "bad_folder"),
        ("L8", ".", None, "bad_folder"),
    ],
)
def test_a_machine_has_a_name_and_a_folder_of_its_own(
    t: TestShop, name: str, folder: str, group: str | None, code: str
) -> None:
    with refused(code):
        records.add_machine(t.shop, t.admin, name, profile=b"x", folder=folder, group=group)


def test_an_extension_is_a_point_and_a_plain_word(t: TestShop) -> None:
    for extension in (".", "NC", "./x", ".N C", ".toolongext"):
        with refused("bad_name"):
            records.add_machine(t.shop, t.admin, "L8", profile=b"x", folder="machines/L8", extension=extension)


def test_a_profile_is_kept_byte_for_byte_and_its_change_is_in_the_ledger(t: TestShop) -> None:
    assert records.profile_bytes(t.shop, "l1") == b"kind = 'lathe'\n"
    before = records.machine(t.shop, "L1").profile_sha
    after = records.change_profile(t.shop, t.admin, "L1", b"kind = 'lathe'\nx = 1\n", "measured again")
    assert after.profile_sha != before
    assert records.whole_history(t.shop)[-1].act == "machine changed"
    with refused("bad_profile"):
        records.change_profile(t.shop, t.admin, "L1", b"", "x")


def test_moving_a_machines_folder_is_an_act(t: TestShop) -> None:
    at_machine(t, b"A")
    assert records.change_folder(t.shop, t.admin, "L1", "/srv/l1", "new share").folder == "/srv/l1"
    with refused("bad_folder"):
        records.change_folder(t.shop, t.admin, "L2", "/srv/L1/", "same share")


def test_nobody_is_found_who_is_not_there(t: TestShop) -> None:
    with refused("unknown_person"):
        records.find_person(t.shop, "nobody")
    with refused("unknown_person"):
        records.change_person(t.shop, t.admin, 99, active=False, reason="x")
    with refused("unknown_machine"):
        records.machine(t.shop, "L77")
