"""The gates of every request: who may change anything, from where, how much; and what every answer says about itself."""

from __future__ import annotations

import gzip
import json
import re
from io import BytesIO
from pathlib import Path

import pytest
from flask import Blueprint
from service_shop import PIN, ROOT, Site, site_on

from verifier import records
from verifier.service.context import current, needs
from verifier.source import ActRefused

CROSS = [
    ({"Origin": "https://elsewhere.example"}, "another origin"),
    ({"Origin": "null"}, "an origin that hides"),
    ({"Origin": "http://localhost:9999"}, "another port"),
    ({"Origin": "http://localhost.elsewhere.example"}, "a name that begins like ours"),
    ({"Sec-Fetch-Site": "cross-site"}, "another site by fetch metadata"),
    ({"Sec-Fetch-Site": "same-site"}, "a neighbour by fetch metadata"),
]


@pytest.mark.parametrize(("headers", "_"), CROSS, ids=[name for _, name in CROSS])
def test_a_form_from_elsewhere_is_refused_even_with_the_right_token(
    site: Site, headers: dict[str, str], _: str
) -> None:
    browser = site.client("ada")
    browser.get("/people")
    answer = browser.post("/people", {"login": "new", "full_name": "N", "role": "lead", "pin": PIN}, headers=headers)
    assert answer.status_code == 403 and "another site" in answer.text
    assert len(records.people(site.shop)) == 5


@pytest.mark.parametrize("token", ["", "0" * 64, "x", "é" * 64])
def test_a_form_without_its_sessions_token_is_refused(site: Site, token: str) -> None:
    browser = site.client("ada")
    answer = browser.post(
        "/people", {"form_token": token, "login": "new", "full_name": "N", "role": "lead", "pin": PIN}
    )
    assert answer.status_code == 403


def test_the_token_of_another_session_does_not_count(site: Site) -> None:
    ada, pia = site.client("ada"), site.client("pia")
    ada.get("/people")
    assert ada.post("/sign-out", {"form_token": pia.token}).status_code == 403
    assert ada.get("/people").status_code == 200


def test_the_token_from_before_signing_in_does_not_count_after(site: Site) -> None:
    browser = site.client()
    browser.get("/sign-in")
    before = browser.token
    browser.sign_in("pia")
    assert browser.post("/sign-out", {"form_token": before}).status_code == 403


def test_signing_somebody_in_from_another_site_is_refused(site: Site) -> None:
    browser = site.client()
    browser.get("/sign-in")
    answer = browser.post(
        "/sign-in", {"login": "pia", "password": "x"}, headers={"Origin": "https://elsewhere.example"}
    )
    assert answer.status_code == 403 and "another site" in answer.text


def test_a_browser_that_says_nothing_of_its_origin_still_needs_the_token(site: Site) -> None:
    browser = site.client("pia")
    plain = browser.client.post("/sign-out", data={"form_token": browser.token})
    assert plain.status_code == 303


@pytest.mark.parametrize(
    "host", ["elsewhere.example", "localhost.elsewhere.example", "evil@localhost", "", "127.0.0.1.nip"]
)
def test_another_host_is_refused_before_anything_else(site: Site, host: str) -> None:
    for path in ("/sign-in", "/healthz", "/nowhere"):
        assert site.app.test_client().get(path, headers={"Host": host}).status_code == 400


@pytest.mark.parametrize("host", ["localhost", "localhost:8470", "127.0.0.1:8470"])
def test_loopback_names_are_ours(site: Site, host: str) -> None:
    assert site.app.test_client().get("/sign-in", headers={"Host": host}).status_code == 200


def test_forwarded_headers_count_only_where_a_proxy_is_configured(site: Site, folder: Path, place: Path) -> None:
    forged = {"X-Forwarded-Host": "localhost", "X-Forwarded-For": "10.9.9.9"}
    browser = site.client()
    for k in range(20):
        browser.get("/sign-in")
        browser.post("/sign-in", {"login": f"s{k}", "password": "no"}, headers={"X-Forwarded-For": f"10.0.0.{k}"})
    assert browser.sign_in("pia").status_code == 429
    assert site.app.test_client().get("/sign-in", headers={**forged, "Host": "elsewhere.example"}).status_code == 400


PAGES = [
    "/sign-in",
    "/",
    "/people",
    "/machine-files",
    "/machine-files/L1",
    "/machine-files/L1/picture.svg",
    "/policy",
    "/account",
    "/nowhere",
    "/welcome",
]


@pytest.mark.parametrize("path", PAGES)
def test_every_page_forbids_what_it_does_not_need(site: Site, path: str) -> None:
    answer = site.client("ada").get(path)
    policy = answer.headers["Content-Security-Policy"]
    for part in (
        "default-src 'none'",
        "object-src 'none'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
        "form-action 'self'",
    ):
        assert part in policy
    assert "unsafe" not in policy
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["Referrer-Policy"] == "same-origin"
    assert answer.headers["Cache-Control"] == "no-store"
    assert "camera=()" in answer.headers["Permissions-Policy"]
    assert "Strict-Transport-Security" not in answer.headers
    assert "Server" not in answer.headers or "ython" not in answer.headers["Server"]


@pytest.mark.parametrize("path", sorted((ROOT / "web" / "templates").glob("*.html")), ids=lambda path: path.name)
def test_no_template_of_the_service_holds_inline_style_or_script(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    if path.name in ("report.html", "three-way.html"):
        pytest.skip("a report on its own carries its style")
    assert not re.search(r"<style|\sstyle=|\son[a-z]+=|javascript:|<script(?![^>]*\ssrc=)", text)
    assert "|safe" not in text


def test_what_is_not_known_in_static_is_not_served(site: Site) -> None:
    client = site.app.test_client()
    assert client.get("/static/site.css").mimetype == "text/css"
    for name in ("report.html", "..%2ftemplates%2fbase.html", "nothing.css", "%00"):
        assert client.get(f"/static/{name}").status_code == 404


def test_a_static_file_is_sent_once(site: Site) -> None:
    client = site.app.test_client()
    first = client.get("/static/site.css")
    assert client.get("/static/site.css", headers={"If-None-Match": first.headers["ETag"]}).status_code == 304


def test_a_body_far_over_the_limit_is_refused_unread(site: Site) -> None:
    client = site.app.test_client()
    limit = site.app.config["MAX_CONTENT_LENGTH"]
    sent = {"CONTENT_LENGTH": str(4 * limit + 1), "wsgi.input": _Unread()}
    answer = client.post("/sign-in", environ_overrides=sent)
    assert answer.status_code == 413


def test_a_body_somewhat_over_the_limit_is_read_away_in_pieces_and_kept_nowhere(site: Site) -> None:
    """Closed in the middle of a body, the connection would lose the answer that says what was wrong."""
    limit, body = site.app.config["MAX_CONTENT_LENGTH"], _Pieces()
    sent = {"CONTENT_LENGTH": str(limit + 1), "wsgi.input": body}
    assert site.app.test_client().post("/sign-in", environ_overrides=sent).status_code == 413
    assert body.taken == limit + 1 and body.largest <= 1 << 16


class _Pieces(BytesIO):
    """A body without end that notes what was taken of it."""

    taken = largest = 0

    def read(self, most: int | None = -1, /) -> bytes:
        assert most is not None and most >= 0
        self.taken, self.largest = self.taken + most, max(self.largest, most)
        return b"x" * most


class _Unread(BytesIO):
    """A body that must not be touched."""

    def read(self, *_: object) -> bytes:
        raise AssertionError("the body was read")


def test_packed_bodies_are_refused(site: Site) -> None:
    answer = site.app.test_client().post("/sign-in", data=gzip.compress(b"x" * 9), headers={"Content-Encoding": "gzip"})
    assert answer.status_code == 415


def test_a_form_of_very_many_or_very_long_fields_is_refused(site: Site) -> None:
    browser = site.client("ada")
    long = browser.post("/people", {"full_name": "x" * 600_000}, content_type="multipart/form-data")
    many = browser.post("/people", {f"f{k}": "x" for k in range(1200)}, content_type="multipart/form-data")
    assert (long.status_code, many.status_code) == (413, 413)


def _with_probe(folder: Path) -> Site:
    """The application with end points that only these tests have."""
    site = site_on(folder)
    probe = Blueprint("probe", __name__)

    @probe.get("/api/v1/who")
    @needs(scope="read")
    def who() -> dict[str, str]:
        return {"login": current().login}

    @probe.post("/api/v1/act")
    @needs("lead", scope="decide")
    def act() -> dict[str, str]:
        return {"done": current().login}

    @probe.get("/api/v1/refuse/<code>")
    def refuse(code: str) -> str:
        raise ActRefused(code, "it is so", "do this")

    @probe.post("/api/v1/break")
    @probe.get("/break")
    def broken() -> str:
        raise RuntimeError("the secret value")

    site.app.register_blueprint(probe)
    return site


def _token(site: Site, login: str, *scopes: str, days: int = 5) -> dict[str, str]:
    secret = f"token-of-{login}-{'-'.join(scopes)}"
    records.make_token(site.shop, site.person(login).id, "test", secret, scopes, days)
    return {"Authorization": f"Bearer {secret}"}


class TestApi:
    """Programs that act by token."""

    def test_a_token_acts_for_its_person_without_cookie_or_form_token(self, folder: Path) -> None:
        site = _with_probe(folder)
        client, headers = site.app.test_client(), _token(site, "leo", "read", "decide")
        assert client.get("/api/v1/who", headers=headers).json == {"login": "leo"}
        assert client.post("/api/v1/act", headers=headers).json == {"done": "leo"}

    def test_a_token_is_good_for_its_scopes_and_its_persons_roles_only(self, folder: Path) -> None:
        site = _with_probe(folder)
        client = site.app.test_client()
        assert client.post("/api/v1/act", headers=_token(site, "leo", "read")).json["code"] == "wrong_scope"
        assert client.post("/api/v1/act", headers=_token(site, "pia", "decide")).json["code"] == "wrong_role"

    def test_a_token_opens_no_page_for_people(self, folder: Path) -> None:
        site = _with_probe(folder)
        assert site.app.test_client().get("/account", headers=_token(site, "leo", "read")).status_code == 401

    @pytest.mark.parametrize("header", ["Bearer wrong", "Bearer ", "Basic bGVvOng=", "Bearer " + "x" * 4000])
    def test_a_token_that_does_not_count_is_told(self, folder: Path, header: str) -> None:
        answer = _with_probe(folder).app.test_client().get("/api/v1/who", headers={"Authorization": header})
        assert answer.status_code == 401 and answer.headers["WWW-Authenticate"] == "Bearer"
        assert answer.mimetype == "application/problem+json" and answer.json["code"] == "bad_token"

    def test_a_token_ends_in_time_by_hand_and_with_its_person(self, folder: Path) -> None:
        site = _with_probe(folder)
        client = site.app.test_client()
        late, ended, gone = _token(site, "leo", "read"), _token(site, "lena", "read"), _token(site, "otto", "read")
        lena = site.person("lena").id
        records.end_token(site.shop, lena, records.tokens_of(site.shop, lena)[0].id)
        records.change_person(site.shop, site.person("ada").id, site.person("otto").id, active=False, reason="left")
        assert [client.get("/api/v1/who", headers=h).status_code for h in (late, ended, gone)] == [200, 401, 401]
        site.clock.add(5 * 86400 + 1)
        assert client.get("/api/v1/who", headers=late).status_code == 401

    def test_a_wrong_token_never_falls_back_to_the_cookie(self, folder: Path) -> None:
        site = _with_probe(folder)
        browser = site.client("leo")
        assert browser.get("/api/v1/who", headers={"Authorization": "Bearer wrong"}).status_code == 401

    def test_the_session_counts_at_the_api_with_the_forms_token_in_a_header(self, folder: Path) -> None:
        site = _with_probe(folder)
        browser = site.client("leo")
        own = {"Origin": browser.origin, "X-Form-Token": browser.token}
        assert browser.client.post("/api/v1/act", headers=own).json == {"done": "leo"}
        assert browser.client.post("/api/v1/act").status_code == 403

    def test_nobody_is_asked_for_a_token(self, folder: Path) -> None:
        answer = _with_probe(folder).app.test_client().get("/api/v1/who")
        assert answer.status_code == 401 and answer.headers["WWW-Authenticate"] == "Bearer"

    @pytest.mark.parametrize(
        ("code", "status"),
        [("stale_page", 409), ("wrong_role", 403), ("bad_name", 422), ("unknown_program", 404), ("throttled", 429)],
    )
    def test_refusals_are_problem_details(self, folder: Path, code: str, status: int) -> None:
        answer = _with_probe(folder).app.test_client().get(f"/api/v1/refuse/{code}")
        assert answer.status_code == status and answer.mimetype == "application/problem+json"
        assert {"type", "title", "status", "detail", "code", "id", "hint"} <= set(json.loads(answer.text))
        assert answer.json["type"] == f"urn:verifier:problem:{code}"

    def test_an_address_that_is_not_there_is_a_problem_for_programs_and_a_page_for_people(self, folder: Path) -> None:
        client = _with_probe(folder).app.test_client()
        assert client.get("/api/v1/nothing").mimetype == "application/problem+json"
        assert client.get("/nothing").mimetype == "text/html"
        assert "POST" in client.get("/api/v1/act").headers["Allow"]

    def test_a_mistake_of_the_code_tells_nothing_but_its_number(self, folder: Path) -> None:
        answer = _with_probe(folder).app.test_client().get("/break")
        assert answer.status_code == 500 and "secret value" not in answer.text and "RuntimeError" not in answer.text
        assert re.search(r"Number <code>id\d{6}</code>", answer.text)
