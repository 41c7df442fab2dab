"""Tokens on pages: a person makes their own with their PIN, sees the secret once, and ends them; an administrator only ends."""

from __future__ import annotations

import re
from typing import Any

import pytest
from api_site import API, Caller
from service_shop import PIN, Browser, Site

from verifier import records

_SECRET = re.compile(r'<p class="keep">([A-Za-z0-9_-]{43})</p>')


def make(browser: Browser, *scopes: str, **more: Any) -> Any:
    given = {"name": "nightly", "scope": list(scopes or ("read",)), "days": "5", "pin": PIN, **more}
    return browser.post("/tokens", given)


def me(site: Site, secret: str) -> Any:
    return site.app.test_client().get(API + "/me", headers={"Authorization": f"Bearer {secret}"})


def test_a_person_makes_sees_uses_and_ends_a_token(site: Site) -> None:
    pia = site.client("pia")
    shown = make(pia, "read", "submit")
    found = _SECRET.search(shown.text)
    assert shown.status_code == 200 and found is not None and "hand in programs in your name" in shown.text
    secret = found.group(1)
    assert me(site, secret).get_json()["scopes"] == ["read", "submit"]
    listed = pia.get("/tokens").text
    assert "nightly" in listed and secret not in listed and secret not in str(records.whole_history(site.shop))
    number = records.tokens_of(site.shop, site.person("pia").id)[0].id
    assert (
        pia.post(f"/tokens/{number}/end", {"pin": "000001"}).status_code == 403 and me(site, secret).status_code == 200
    )
    assert pia.post(f"/tokens/{number}/end", {"pin": PIN}).status_code == 303
    assert me(site, secret).status_code == 401 and "ended" in pia.get("/tokens").text


@pytest.mark.parametrize(
    ("more", "status"),
    [
        ({"pin": "000001"}, 403), ({"pin": ""}, 403), ({"scope": []}, 422), ({"scope": ["all"]}, 422),
        ({"days": "0"}, 422), ({"days": "400"}, 422), ({"days": "x"}, 422), ({"name": ""}, 422),
    ],
)  # fmt: skip
def test_a_token_without_pin_or_bounds_is_not_made(site: Site, more: dict[str, Any], status: int) -> None:
    told = make(site.client("pia"), **more)
    assert told.status_code == status and not _SECRET.search(told.text)
    assert records.all_tokens(site.shop) == ()


def test_a_secret_is_shown_once(site: Site) -> None:
    pia = site.client("pia")
    first, second = (make(pia, once="B" * 22) for _ in range(2))
    assert _SECRET.search(first.text) and not _SECRET.search(second.text) and second.status_code == 409
    assert len(records.all_tokens(site.shop)) == 1


def test_an_administrator_lists_and_ends_those_of_others_and_makes_none(site: Site) -> None:
    make(site.client("leo"), "decide")
    leo, ada = site.person("leo"), site.client("ada")
    (token,) = records.tokens_of(site.shop, leo.id)
    page = ada.get(f"/tokens/of/{leo.id}").text
    assert "sign decisions" in page and "Make a token" not in page
    assert ada.post(f"/tokens/of/{leo.id}", {"name": "x", "scope": "read", "days": "5", "pin": PIN}).status_code == 405
    pia = site.client("pia")
    assert pia.get(f"/tokens/of/{leo.id}").status_code == 403
    assert pia.post(f"/tokens/{token.id}/end", {"pin": PIN}).status_code == 404
    assert ada.post(f"/tokens/{token.id}/end", {"pin": "000001"}).status_code == 403
    answer = ada.post(f"/tokens/{token.id}/end", {"pin": PIN})
    assert answer.status_code == 303 and answer.location.endswith(f"/tokens/of/{leo.id}")
    assert records.tokens_of(site.shop, leo.id)[0].ended_us is not None
    assert ada.post(f"/tokens/{token.id}/end", {"pin": PIN}).status_code == 404


def test_a_token_makes_no_token(site: Site) -> None:
    caller = Caller(site, "pia")
    assert caller.client.post("/tokens", data={"pin": PIN}, headers=caller.headers).status_code in (401, 403)
    assert len(records.all_tokens(site.shop)) == 1, "that of the caller"


@pytest.mark.parametrize(
    "what", ["check-again", "release", "withdrawal", "recall", "take-over", "go-back", "write-again"]
)
def test_over_the_api_every_act_that_moves_a_revision_asks_for_the_pin(site: Site, what: str) -> None:
    at = API + "/programs/L1/O1001" + ("" if what in ("go-back", "write-again") else "/revisions/1")
    leo = Caller(site, "otto" if what == "take-over" else "leo")
    reason = {} if what in ("take-over", "check-again") else {"reason": "r"}
    assert leo.post(f"{at}/{what}", reason).status_code == 422, "without a PIN it is no request"
    if what in ("go-back", "write-again"):
        told = leo.post(f"{at}/{what}", {**reason, "pin": "000001"})
        assert (told.status_code, told.get_json(force=True)["code"]) == (403, "sign_in_again")
