"""Passwords and PINs: what is taken, what proves, and that a PIN's hash is worth nothing without the server key."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import argon2
import pytest

from verifier import records
from verifier.desk import Desk, PinLimit, needs_rehash, password_hash, password_proven, pin_hash, server_key
from verifier.desk.common import is_common
from verifier.desk.secrets import pin_needs_rehash, pin_proven
from verifier.records import Throttled
from verifier.source import ActRefused, StoreError

CHEAP = argon2.PasswordHasher(time_cost=1, memory_cost=64, parallelism=1)


@pytest.mark.parametrize(
    "password", ["several plain words", "  blanks  count  ", "größe-und-maß", "a" * 3 + "xyz" * 30]
)
def test_any_password_of_eight_characters_that_is_not_common_is_taken(password: str) -> None:
    stored = password_hash(password)
    assert password_proven(stored, password)
    assert not password_proven(stored, password + " ") and not password_proven(stored, password[:-1])
    assert not needs_rehash(stored) and needs_rehash(CHEAP.hash(password))


@pytest.mark.parametrize(
    "password",
    ["password", "Passw0rd1!", "qwertyuiop", "12345678", "87654321", "aaaaaaaa", "letmein99", "Welcome2026", "abcdefgh", "shop1234",
     "MACHINIST", "iloveyou!!", "testtest"],
)  # fmt: skip
def test_passwords_that_are_tried_first_are_refused(password: str) -> None:
    assert is_common(password)
    with pytest.raises(ActRefused) as caught:
        password_hash(password)
    assert caught.value.code == "common_secret"


@pytest.mark.parametrize("password", ["bench vice blue 7", "turret-and-tea", "73 apples a day", "xk7pqr2m"])
def test_other_passwords_are_not(password: str) -> None:
    assert not is_common(password)


def test_a_persons_own_name_is_no_password() -> None:
    assert is_common("Nightshift12", ["n.nightshift", "Lead Nightshift"])
    assert not is_common("nightshift soup", ["Lead Nightshift"])


def test_nothing_stored_proves_nothing() -> None:
    assert not password_proven(None, "\0 nobody") and not password_proven(None, "")


def test_a_secret_without_end_is_refused_and_not_hashed(tmp_path: Path) -> None:
    for make in (lambda s: password_hash(s), lambda s: pin_hash(server_key(tmp_path), s)):
        with pytest.raises(ActRefused) as caught:
            make("xyz1" * 1000)
        assert caught.value.code == "long_secret"
    assert not password_proven(None, "x" * 5000)


def test_a_pin_proves_with_its_key_only(tmp_path: Path) -> None:
    key = server_key(tmp_path)
    stored = pin_hash(key, "402817")
    assert pin_proven(key, stored, "402817") and not pin_proven(key, stored, "402818")
    assert not pin_needs_rehash(stored)
    other = server_key(_folder(tmp_path / "other"))
    with pytest.raises(ActRefused, match="not the one"):
        pin_proven(other, stored, "402817")


def _folder(path: Path) -> Path:
    path.mkdir()
    return path


def test_the_key_is_made_once_for_its_owner_only(tmp_path: Path) -> None:
    first, second = server_key(tmp_path), server_key(tmp_path)
    assert first.keyed("pin", "x") == second.keyed("pin", "x") != first.keyed("form", "x")
    assert [path.name for path in tmp_path.iterdir()] == ["server.key"]
    if sys.platform != "win32":
        assert (tmp_path / "server.key").stat().st_mode & 0o777 == 0o600
        os.chmod(tmp_path / "server.key", 0o644)
        with pytest.raises(StoreError, match="read by others"):
            server_key(tmp_path)


def test_a_damaged_key_is_refused_and_never_replaced(tmp_path: Path) -> None:
    server_key(tmp_path)
    (tmp_path / "server.key").write_text("short\n")
    with pytest.raises(StoreError, match="does not hold"):
        server_key(tmp_path)
    assert (tmp_path / "server.key").read_text() == "short\n"


def desk_of(folder: Path) -> Desk:
    now = [1_800_000_000_000_000]

    def clock() -> int:
        now[0] += 1000
        return now[0]

    shop = records.init_shop(folder, "x", ("ann", "A"), clock=clock, new_id=lambda: "u")
    return Desk(shop, lambda: "t1", limit=PinLimit(), place="10.0.0.1")


def test_a_pin_from_before_the_key_still_counts_and_is_keyed_at_its_first_use(tmp_path: Path) -> None:
    desk = desk_of(tmp_path)
    ann = desk.person("ann").id
    records.set_secret_hash(desk.shop, ann, ann, pin=CHEAP.hash("old-pin"))
    assert desk.proven("ann", "old-pin").id == ann
    stored = records.secret_hashes(desk.shop, ann)[1]
    assert stored is not None and stored.startswith("$hmac-sha256,k=") and not pin_needs_rehash(stored)
    assert desk.proven("ann", "old-pin").id == ann


def test_the_sixth_wrong_pin_is_not_looked_at_and_a_right_one_starts_afresh(tmp_path: Path) -> None:
    desk = desk_of(tmp_path)
    desk.set_pin("ann", "ann", "402817")
    for _ in range(3):
        for _ in range(4):
            with pytest.raises(ActRefused, match="not right"):
                desk.proven("ann", "402818")
        desk.proven("ann", "402817")
    for _ in range(5):
        with pytest.raises(ActRefused, match="not right"):
            desk.proven("ann", "402818")
    with pytest.raises(Throttled):
        desk.proven("ann", "402817")
    other = Desk(desk.shop, lambda: "t2")
    with pytest.raises(Throttled):
        other.proven("ann", "402817")


def test_a_pin_with_few_different_signs_is_refused(tmp_path: Path) -> None:
    for pin in ("111111", "121212", "000001"):
        with pytest.raises(ActRefused):
            pin_hash(server_key(tmp_path), pin)
