"""Signing in and out: what a password opens, what ends a session, how often one may be wrong."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import argon2
import pytest
from service_shop import PASSWORD, PIN, Browser, Site, site_on

from verifier import records
from verifier.desk import password_hash, server_key


@pytest.fixture
def hashing(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[str]]:
    """Counts every verification of a hash, whatever comes of it."""
    counted: list[str] = []
    real = argon2.PasswordHasher.verify

    def verify(self: argon2.PasswordHasher, stored: str | bytes, secret: str | bytes) -> bool:
        counted.append(str(stored)[:10])
        return bool(real(self, stored, secret))

    monkeypatch.setattr(argon2.PasswordHasher, "verify", verify)
    yield counted


def test_signing_in_leads_home_and_signing_out_ends_the_session(site: Site) -> None:
    browser = site.client("pia")
    assert browser.get("/").status_code == 200
    kept = browser.cookie()
    assert browser.post("/sign-out").status_code == 303
    assert browser.get("/").headers["Location"] == "/sign-in"
    browser.client.set_cookie("verifier", str(kept))
    assert browser.get("/account").status_code == 303


def test_the_cookie_is_for_this_service_alone(site: Site) -> None:
    browser = site.client()
    browser.get("/sign-in")
    answer = browser.post("/sign-in", {"login": "pia", "password": PASSWORD})
    (cookie,) = [c for c in answer.headers.getlist("Set-Cookie") if c.startswith("verifier=")]
    assert {"HttpOnly", "SameSite=Strict", "Path=/"} <= {part.strip() for part in cookie.split(";")}
    assert "Domain" not in cookie


def test_behind_tls_the_cookie_is_secure_and_bound_to_the_host(folder: Path, place: Path) -> None:
    file = place / "tls.toml"
    file.write_text('host = "0.0.0.0"\npublic_hosts = ["verify.shop.example"]\nproxy_hops = 1\n', encoding="utf-8")
    site = site_on(folder, file=file)
    forwarded = {"X-Forwarded-Proto": "https", "X-Forwarded-Host": "verify.shop.example", "X-Forwarded-For": "10.0.0.9"}
    client = site.app.test_client()
    answer = client.get("/sign-in", headers=forwarded)
    (cookie,) = [c for c in answer.headers.getlist("Set-Cookie") if "verifier=" in c]
    assert cookie.startswith("__Host-verifier=") and "Secure" in cookie
    assert answer.headers["Strict-Transport-Security"].startswith("max-age=31536000")


def test_a_session_name_chosen_beforehand_is_replaced(site: Site) -> None:
    browser = site.client()
    browser.client.set_cookie("verifier", "chosen-by-somebody-else")
    browser.get("/sign-in")
    assert browser.post("/sign-in", {"login": "pia", "password": PASSWORD}).status_code == 303
    assert browser.cookie() not in (None, "chosen-by-somebody-else")
    other = site.client()
    other.client.set_cookie("verifier", "chosen-by-somebody-else")
    assert other.get("/account").status_code == 303


def test_signing_in_again_ends_the_session_before(site: Site) -> None:
    browser = site.client("pia")
    before = str(browser.cookie())
    browser.post("/sign-in", {"login": "pia", "password": PASSWORD})
    assert browser.cookie() != before
    other = site.client()
    other.client.set_cookie("verifier", before)
    assert other.get("/account").status_code == 303


def test_only_the_hash_of_a_session_is_kept(site: Site) -> None:
    browser = site.client("pia")
    name = str(browser.cookie())
    kept = site.shop.database.rows("SELECT * FROM session")
    assert len(kept) == 1 and kept[0]["hash"] == records.name_hash(name)
    assert name not in str(kept)


def test_an_unknown_login_costs_the_same_work_and_gets_the_same_answer(site: Site, hashing: list[str]) -> None:
    browser = site.client()
    browser.sign_in("nobody", "wrong password")
    hashing.clear()
    unknown = browser.sign_in("nobody-else", "wrong password")
    at_unknown = list(hashing)
    hashing.clear()
    known = browser.sign_in("pia", "wrong password")
    assert at_unknown == hashing and len(hashing) == 1
    assert unknown.status_code == known.status_code == 403
    assert _message(unknown.text) == _message(known.text)


def _message(page: str) -> str:
    found = re.search(r'<p class="what">(.*?)</p>', page)
    assert found
    return found.group(1)


def test_people_who_left_cannot_come_in_and_are_put_out(site: Site) -> None:
    browser = site.client("pia")
    records.change_person(site.shop, site.person("ada").id, site.person("pia").id, active=False, reason="left")
    assert browser.get("/account").status_code == 303
    assert site.client().sign_in("pia").status_code == 403


def test_a_session_ends_when_it_is_idle(site: Site) -> None:
    browser = site.client("pia")
    for _ in range(4):
        site.clock.add(14 * 60)
        assert browser.get("/account").status_code == 200
    site.clock.add(15 * 60 + 1)
    assert browser.get("/account").status_code == 303


def test_a_session_ends_after_twelve_hours_however_busy(site: Site) -> None:
    browser = site.client("pia")
    for _ in range(12 * 6 - 1):
        site.clock.add(10 * 60)
        assert browser.get("/account").status_code == 200
    site.clock.add(10 * 60)
    assert browser.get("/account").status_code == 303


def test_a_clock_put_back_prolongs_no_session(site: Site) -> None:
    browser = site.client("pia")
    site.clock.add(-3600)
    assert browser.get("/account").status_code == 303


@pytest.mark.parametrize("change", ["password", "roles"])
def test_another_password_or_role_ends_every_session_at_once(site: Site, change: str) -> None:
    first, second = site.client("pia"), site.client("pia")
    ada, pia = site.person("ada").id, site.person("pia").id
    if change == "password":
        records.set_secret_hash(site.shop, ada, pia, password=password_hash("another good one"))
    else:
        records.change_person(site.shop, ada, pia, roles=["programmer", "lead"], reason="now a lead")
    assert [b.get("/account").status_code for b in (first, second)] == [303, 303]


def test_changing_ones_own_password_keeps_this_session_and_ends_the_others(site: Site) -> None:
    here, there = site.client("pia"), site.client("pia")
    before = here.cookie()
    new = {"new_password": "quite another one", "new_password_again": "quite another one"}
    answer = here.post("/account", {"password": PASSWORD, "new_pin": "", "new_pin_again": "", **new})
    assert answer.status_code == 303 and here.cookie() != before
    assert here.get("/account").status_code == 200
    assert there.get("/account").status_code == 303
    assert site.client().sign_in("pia").status_code == 403
    assert site.client().sign_in("pia", "quite another one").status_code == 303


def test_changing_needs_the_present_password(site: Site) -> None:
    browser = site.client("pia")
    new = {"new_password": "quite another one", "new_password_again": "quite another one"}
    assert browser.post("/account", {"password": "no", **new}).status_code == 403
    assert site.client().sign_in("pia").status_code == 303


def test_the_sixth_wrong_password_is_not_looked_at_and_nor_is_a_right_one(site: Site, hashing: list[str]) -> None:
    browser = site.client()
    browser.get("/sign-in")
    for _ in range(5):
        assert browser.post("/sign-in", {"login": "pia", "password": "wrong one"}).status_code == 403
    hashing.clear()
    sixth = browser.post("/sign-in", {"login": "pia", "password": PASSWORD})
    assert sixth.status_code == 429 and hashing == []
    assert "15 minutes" in sixth.text
    assert site.client().sign_in("leo").status_code == 303
    site.clock.add(15 * 60 + 1)
    assert site.client().sign_in("pia").status_code == 303


def test_a_right_password_starts_the_count_afresh(site: Site) -> None:
    browser = site.client()
    for _ in range(3):
        for _ in range(4):
            assert browser.sign_in("pia", "wrong one").status_code == 403
        assert browser.sign_in("pia").status_code == 303
        browser.post("/sign-out")


def test_one_address_cannot_try_everybody(site: Site) -> None:
    browser = site.client()
    for k in range(20):
        assert browser.sign_in(f"somebody{k}", "wrong one").status_code == 403
    assert browser.sign_in("leo").status_code == 429
    elsewhere = browser.post(
        "/sign-in", {"login": "leo", "password": PASSWORD}, environ_overrides={"REMOTE_ADDR": "10.1.1.1"}
    )
    assert elsewhere.status_code == 303


def test_an_account_of_ones_own_does_not_clear_the_count_of_the_address(site: Site) -> None:
    browser = site.client()
    for k in range(19):
        browser.sign_in(f"somebody{k}", "wrong one")
        if k % 3 == 0:
            browser.sign_in("pia")
            browser.post("/sign-out")
    assert browser.sign_in("one-more", "wrong one").status_code == 403
    assert browser.sign_in("leo").status_code == 429


def test_a_hash_of_less_cost_is_made_anew_at_sign_in(site: Site) -> None:
    cheap = argon2.PasswordHasher(time_cost=1, memory_cost=64, parallelism=1).hash(PASSWORD)
    pia = site.person("pia").id
    records.set_secret_hash(site.shop, pia, pia, password=cheap)
    site.client("pia")
    stored = records.secret_hashes(site.shop, pia)[0]
    assert stored is not None and "m=19456,t=2,p=1" in stored
    assert site.client("pia").get("/account").status_code == 200


@pytest.mark.parametrize(
    ("wanted", "goes"),
    [
        ("/people?x=1", "/people?x=1"),
        ("//elsewhere.example/", "/"),
        ("/\\elsewhere.example", "/"),
        ("https://elsewhere.example/", "/"),
        ("/a\r\nSet-Cookie: x=1", "/"),
        ("javascript:alert(1)", "/"),
        ("", "/"),
    ],
)
def test_after_signing_in_people_go_nowhere_else(site: Site, wanted: str, goes: str) -> None:
    browser = site.client()
    browser.get("/sign-in")
    answer = browser.post("/sign-in", {"login": "pia", "password": PASSWORD, "next": wanted})
    assert (answer.status_code, answer.headers["Location"]) == (303, goes)


def test_a_one_time_code_sets_password_and_pin_once(site: Site) -> None:
    code = _code_for(site, "otto")
    browser = site.client()
    browser.get("/welcome")
    given = _new("otto", code, "several plain words", "771204")
    assert browser.post("/welcome", given).status_code == 303
    assert site.client().sign_in("otto", "several plain words").status_code == 303
    assert site.desk.proven("otto", "771204").login == "otto"
    assert browser.post("/welcome", given).status_code == 403


def _new(login: str, code: str, password: str, pin: str) -> dict[str, str]:
    return {
        "login": login, "code": code, "password": password, "password_again": password, "pin": pin, "pin_again": pin,
    }  # fmt: skip


def _code_for(site: Site, login: str) -> str:
    admin = site.client("ada")
    answer = admin.post(f"/people/{site.person(login).id}", {"what": "code", "pin": PIN})
    found = re.search(r'class="keep">([0-9A-Z-]{19})<', answer.text)
    assert answer.status_code == 200 and found, answer.text
    return found.group(1)


def test_a_code_counts_for_its_person_only_and_not_for_ever(site: Site) -> None:
    code = _code_for(site, "otto")
    browser = site.client()
    assert browser.post("/welcome", _new("pia", code, "several plain words", "771204")).status_code == 403
    site.clock.add(72 * 3600 + 1)
    assert browser.post("/welcome", _new("otto", code, "several plain words", "771204")).status_code == 403


def test_a_new_code_takes_the_earlier_one_away(site: Site) -> None:
    first, second = _code_for(site, "otto"), _code_for(site, "otto")
    browser = site.client()
    assert browser.post("/welcome", _new("otto", first, "several plain words", "771204")).status_code == 403
    assert (
        browser.post(
            "/welcome", _new("otto", second.lower().replace("-", " "), "several plain words", "771204")
        ).status_code
        == 303
    )


def test_codes_cannot_be_tried_without_end(site: Site) -> None:
    code = _code_for(site, "otto")
    browser = site.client()
    for _ in range(5):
        assert (
            browser.post("/welcome", _new("otto", "2222-2222-2222-2222", "several plain words", "771204")).status_code
            == 403
        )
    assert browser.post("/welcome", _new("otto", code, "several plain words", "771204")).status_code == 429


def test_a_code_opens_an_account_that_was_locked(site: Site) -> None:
    browser = site.client()
    for _ in range(6):
        last = browser.sign_in("otto", "wrong one")
    assert last.status_code == 429
    code = _code_for(site, "otto")
    assert browser.post("/welcome", _new("otto", code, "several plain words", "771204")).status_code == 303
    assert browser.sign_in("otto", "several plain words").status_code == 303


@pytest.mark.parametrize(
    ("password", "pin", "again", "words"),
    [
        ("short", "771204", "", "at least 8"),
        ("Password123!", "771204", "", "tried first"),
        ("Operator O 1", "771204", "", "tried first"),
        ("several plain words", "77120", "", "at least 6"),
        ("several plain words", "111111", "", "tried first"),
        ("several plain words", "771204", "something else", "differ"),
    ],
)
def test_weak_secrets_are_refused_with_the_reason(site: Site, password: str, pin: str, again: str, words: str) -> None:
    code = _code_for(site, "otto")
    given = _new("otto", code, password, pin) | ({"password_again": again} if again else {})
    answer = site.client().post("/welcome", given)
    assert answer.status_code == 422 and words in answer.text
    assert password not in answer.text


def test_a_long_password_of_any_characters_is_taken_whole(site: Site) -> None:
    code, password = _code_for(site, "otto"), "größe " * 20
    browser = site.client()
    assert browser.post("/welcome", _new("otto", code, password, "771204")).status_code == 303
    assert site.client().sign_in("otto", password).status_code == 303
    assert site.client().sign_in("otto", password[:-2]).status_code == 403


class TestFirst:
    """The first administrator."""

    def made(self, browser: Browser, code: str, **changes: str) -> int:
        given = {"code": code, "shop_name": "New shop", "login": "fay", "full_name": "First F", **changes}
        secrets = {"password": "several plain words", "pin": "771204"}
        given |= secrets | {f"{name}_again": value for name, value in secrets.items()}
        return int(browser.post("/first", given).status_code)

    def test_a_shop_is_made_with_the_printed_code_and_only_with_it(self, place: Path) -> None:
        site = site_on(place / "new", first_code="ABCD-EFGH-JKMN-PQRS")
        browser = site.client()
        assert browser.get("/").headers["Location"] == "/sign-in"
        assert browser.get("/sign-in").headers["Location"] == "/first"
        browser.get("/first")
        assert self.made(browser, "ABCD-EFGH-JKMN-PQRT") == 403
        assert not records.shop_exists(place / "new")
        assert self.made(browser, "abcdefghjkmnpqrs") == 303
        assert browser.get("/people").status_code == 200
        assert self.made(site.client(), "ABCD-EFGH-JKMN-PQRS") == 403
        assert [p.login for p in records.people(site.shop)] == ["fay"]

    def test_without_a_printed_code_nobody_becomes_the_first(self, place: Path) -> None:
        site = site_on(place / "new")
        browser = site.client()
        browser.get("/first")
        assert self.made(browser, "") == 403

    def test_a_login_that_cannot_be_is_told_and_can_be_mended(self, place: Path) -> None:
        site = site_on(place / "new", first_code="ABCD-EFGH-JKMN-PQRS")
        browser = site.client()
        browser.get("/first")
        assert self.made(browser, "ABCD-EFGH-JKMN-PQRS", login="not a login") == 422
        assert self.made(browser, "ABCD-EFGH-JKMN-PQRS") == 303

    def test_a_shop_made_by_other_means_gets_its_administrators_password(self, folder: Path, place: Path) -> None:
        from service_shop import HandClock, Ids

        records.init_shop(place / "cli", "x", ("ann", "A"), clock=HandClock(), new_id=Ids()).close_thread()
        site = site_on(place / "cli", first_code="ABCD-EFGH-JKMN-PQRS")
        browser = site.client()
        assert "ann" in browser.get("/first").text
        assert self.made(browser, "ABCD-EFGH-JKMN-PQRS", login="ann") == 303
        assert site.client().sign_in("ann", "several plain words").status_code == 303


def test_pins_are_useless_without_the_server_key(site: Site) -> None:
    stored = records.secret_hashes(site.shop, site.person("leo").id)[1]
    assert stored is not None and stored.startswith("$hmac-sha256,k=")
    inner = "$" + stored.split("$", 2)[2]
    with pytest.raises(argon2.exceptions.VerifyMismatchError):
        argon2.PasswordHasher().verify(inner, PIN)
    assert (site.folder / "server.key").stat().st_mode & 0o777 == 0o600
    keyed = server_key(site.folder).keyed("pin", PIN)
    assert argon2.PasswordHasher().verify(inner, keyed)
