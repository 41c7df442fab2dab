"""Over all addresses: the caution stands wherever a verdict is shown, every refusal says what to do next, every page bears its frame."""

from __future__ import annotations

import re

import pytest
from page_walk import BASE, NO_CLAMP, act, file_of, newest, released, submit
from service_shop import Site
from werkzeug.routing import Rule

from verifier import records
from verifier.report import CAUTION

PEOPLE = ("ada", "pia", "leo", "otto")
NOT_PAGES = ("static_file", "health.healthz", "health.readyz", "metrics.metrics", "revisions.file", "readbacks.file")
_VERDICT = re.compile(r'class="verdict|class="run|(Same|Changed) behaviour|Undetermined')


@pytest.fixture
def busy(site: Site) -> Site:
    """A shop in which every page has something to show: a release that was read back otherwise, an edit that is held."""
    found = released(site)
    edited = file_of(BASE.replace("F0.25", "F0.2"))
    site.client("otto").post("/at/L1/O42/readback", {"revision": found.id, "sent": edited})
    submit(site.client("pia"), NO_CLAMP)
    return site


def addresses(site: Site, method: str) -> list[str]:
    """Every address of the pages, filled in; a part that is not known here fails, so that no new page is forgotten."""
    known = {"machine": "L1", "program": "O42", "target": "L1"}
    numbers = {
        "people": site.person("pia").id,
        "revisions": newest(site).id,
        "readbacks": 1,
        "tokens": 1,
        "programs": 1,
    }
    names = {"rules": "speed-clamp-removed", "machinery": "L1"}
    found = []
    with site.app.test_request_context():
        for rule in site.app.url_map.iter_rules():
            if rule.endpoint in NOT_PAGES or rule.rule.startswith("/api/") or method not in (rule.methods or ()):
                continue
            found.append(_filled(site, rule, known, numbers, names))
    return sorted(found)


def _filled(site: Site, rule: Rule, known: dict[str, str], numbers: dict[str, int], names: dict[str, str]) -> str:
    blueprint = rule.endpoint.split(".")[0]
    given: dict[str, str | int] = {key: known[key] for key in rule.arguments if key in known}
    if "number" in rule.arguments:
        given["number"] = numbers[blueprint]
    if "other" in rule.arguments:
        given["other"] = records.revisions(site.shop, "O42", "L1")[0].id
    if "which" in rule.arguments:
        given["which"] = 1
    if "person" in rule.arguments:
        given["person"] = numbers["people"]
    if "name" in rule.arguments:
        given["name"] = names[blueprint]
    return site.app.url_map.bind("localhost").build(rule.endpoint, given)


def test_the_caution_stands_wherever_a_verdict_is_shown(busy: Site) -> None:
    shown = set()
    for login in PEOPLE:
        browser = busy.client(login)
        for url in addresses(busy, "GET"):
            answer = browser.get(url)
            assert answer.status_code < 500, (login, url)
            text = answer.text.replace("&#39;", "'")
            if answer.mimetype == "text/html" and _VERDICT.search(text):
                shown.add(url)
                assert CAUTION in text, (login, url)
    assert {f"/revisions/{newest(busy).id}", "/at/L1/O42"} <= shown


def test_every_page_can_be_opened_by_somebody(busy: Site) -> None:
    """First, sign-in and screen pages, and the search for the nearest program, answer with where to go; all others open for whoever they are for."""
    browsers = [busy.client(login) for login in PEOPLE]
    for url in addresses(busy, "GET"):
        statuses = {browser.get(url).status_code for browser in browsers}
        assert 200 in statuses or url.endswith(("/first", "/here", "/sign-in", "/nearest")), (url, statuses)
        assert statuses <= {200, 303, 403, 404}, (url, statuses)


def test_every_form_that_is_refused_says_what_to_do_next(busy: Site) -> None:
    """Each form is sent empty, by each person: nothing is changed by it, and the page that comes back gives a next step."""
    refused, before = 0, len(records.whole_history(busy.shop))
    for login in PEOPLE:
        browser = busy.client(login)
        for url in addresses(busy, "POST"):
            if url == "/sign-out":
                continue
            answer = browser.post(url, {})
            assert answer.status_code < 500, (login, url, answer.text)
            if answer.status_code >= 400:
                refused += 1
                told = re.search(r'class="next">([^<]+)<', answer.text)
                assert told and told[1].strip().endswith((".", "!")) and len(told[1].strip()) > 10, (login, url)
                browser.get("/account")
    assert refused > 60
    acts = [entry.act for entry in records.whole_history(busy.shop)][before:]
    assert [name for name in acts if "refused" not in name] == []


def test_an_address_that_leads_nowhere_says_where_to_go(site: Site) -> None:
    for url in ("/nowhere", "/revisions/999", "/at/nobody", "/programs/L1/O9", "/people/77", "/rules/no-such-rule"):
        answer = site.client("ada").get(url)
        assert answer.status_code == 404 and 'class="next"' in answer.text and 'href="/"' in answer.text, url


def test_a_role_that_is_missing_is_named_in_plain_words(site: Site) -> None:
    assert "This is for an administrator." in site.client("otto").get("/people").text
    assert "This is for a programmer or a lead." in site.client("otto").get("/submit").text
    assert act(site.client("pia"), "/at/L1/O42/readback").status_code == 403
