"""Hostile words, addresses, verbs and headers against the real server: harmless on every page, refused by every route.

The lists of pages and routes are taken from the application itself, so that a new one cannot be left out.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from urllib.parse import quote

import pytest
from hands import Hands
from hostile import (
    NOT_IMPLEMENTED,
    PARTS,
    PLACES,
    TAG,
    WORDS,
    Spoiled,
    asked,
    clean,
    filled,
    hostile_form,
    look,
    raw,
    rules_of,
    spoil,
    words,
)
from service_shop import PIN, Site

from verifier import records

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="there the server is one process")

NO_PAGE = ("/static/<name>",)
"""What is no page: files that carry no data of the shop."""

PARTS_OF_NO_SHOP = {"name": "speed-clamp-removed"}
"""Parts of addresses that name something of the program's own."""


@pytest.fixture(scope="module")
def spoiled(real: Hands) -> Iterator[Spoiled]:
    yield spoil(real)
    clean(real)


def _parts(s: Spoiled, rule: str, recalled: bool = False) -> dict[str, str]:
    """What fills an address of the spoiled shop."""
    program = s.recalled if recalled else s.program
    number = str(s.person) if rule.startswith("/people") else str(s.held.id)
    name = "L1" if rule.startswith("/machine-files") else "speed-clamp-removed"
    return {
        "target": "L1",
        "machine": "L1",
        "program": program,
        "number": number,
        "other": str(s.held.id),
        "which": "1",
        "n": "1",
        "name": name,
        "id": "1",
        "person": str(s.person),
    }


def _addresses(s: Spoiled, site: Site) -> list[str]:
    rules = [rule for rule in rules_of(site.app, "GET") if rule not in NO_PAGE]
    both = [filled(rule, _parts(s, rule, which)) for rule in rules for which in (False, True)]
    both += [f"/revisions/{s.released.id}", f"/revisions/{s.released.id}/text"]
    both += [f"{url}?{key}={quote(WORDS)}" for url in ("/submit", "/sign-in", "/programs", f"/at/L1/{s.program}")
             for key in ("program", "target", "next", "after", "readback")]  # fmt: skip
    return list(dict.fromkeys(both))


def test_hostile_words_are_harmless_on_every_page_that_there_is(real: Hands, spoiled: Spoiled, site: Site) -> None:
    screens = [real.screen(login) for login in (spoiled.all_roles, "otto")] + [real.screen()]
    told, opened = "", 0
    for url in _addresses(spoiled, site):
        for screen in screens:
            answer = screen.get(url)
            assert answer.status < 500, (url, answer.status)
            assert f"<{TAG}" not in str(answer.headers) and "\n" not in str(answer.headers)
            assert answer.headers["x-content-type-options"] == "nosniff"
            if answer.headers.get("content-type", "").startswith("text/html"):
                found = look(answer.text)
                assert found.faults == [], (url, found.faults)
                told, opened = told + found.text, opened + (answer.status == 200)
    assert opened > 40
    missing = [place for place in PLACES if f"{place}-probe <{TAG}" not in told]
    assert missing == [], "words that no page shows prove nothing"


def test_hostile_words_in_every_field_of_every_form_are_harmless(real: Hands, spoiled: Spoiled, site: Site) -> None:
    size = real.size()
    tried = 0
    for rule in rules_of(site.app, "POST"):
        for login in (spoiled.all_roles, None):
            screen = real.screen(login)
            screen.get("/account" if login else "/sign-in")
            answer = screen.post(filled(rule, _parts(spoiled, rule)), hostile_form())
            assert answer.status < 500 and (answer.status >= 400 or "/sign-" in rule or not login), (
                rule,
                answer.status,
            )
            assert f"<{TAG}" not in str(answer.headers)
            found = look(answer.text)
            assert found.faults == [] or "json" in answer.headers["content-type"], (rule, found.faults)
            tried += 1
    assert tried > 40 and real.size() == size, "nothing of it was done"


HOSTILE_PARTS = [
    "..", "%2e%2e", "..%2f..%2f..%2fetc%2fpasswd", "..%5c..%5cwindows", "%00", "O42%00.NC", "%0d%0aX-Probe:%20yes",
    "%0aX-Probe:%20yes", "%ff%fe", "%F0%9F%98%80", "%D9%A3", "%EF%BC%91", "%E2%81%B4", "-1", "0", "01", "9" * 30, "1e3",
    "1.0", "%201", "+1", "%20", "a" * 3000, "%3Cprobe-tag%3E", "'", "%22", ";", "%25", "%2525", "%", "%zz", "CON", "NUL",
    "L1.", "l1%20", "*", "O" + "1" * 40, "%7B%7B71317*90913%7D%7D", "~", "%5c%5chost%5cshare", "C:", "%E2%80%AE",
]  # fmt: skip


def test_hostile_parts_of_addresses_are_refused_and_reach_no_file(real: Hands, spoiled: Spoiled, site: Site) -> None:
    screen = real.screen(spoiled.all_roles)
    size, asked_for = real.size(), 0
    for rule in rules_of(site.app, "GET"):
        for name in PARTS.findall(rule):
            for part in HOSTILE_PARTS:
                url = filled(rule, {**_parts(spoiled, rule), name: part})
                answer = asked(real, screen, url)
                asked_for += 1
                assert 200 <= answer.status < 500, (url[:100], answer.status)
                assert answer.status >= 300 or _plain(part), (url[:100], answer.status)
                assert "x-probe" not in answer.head.lower(), url
                assert "root:" not in answer.body and "Traceback" not in answer.body
                assert "json" in answer.head or look(answer.body).faults == [], url
    assert asked_for > 600 and real.size() == size


def _plain(part: str) -> bool:
    """Parts that are another spelling of something that is there, for a program name say."""
    return part in ("..", "%2e%2e")


def test_hostile_parts_of_addresses_do_nothing_when_posted(real: Hands, spoiled: Spoiled, site: Site) -> None:
    screen = real.screen(spoiled.all_roles)
    screen.get("/account")
    body = (
        f"form_token={screen.browser.token}&pin={PIN}&reason=r&revision={spoiled.released.id}&verdict=approve".encode()
    )
    size, tried = real.size(), 0
    for rule in rules_of(site.app, "POST"):
        if rule.startswith("/api"):
            continue
        for name in PARTS.findall(rule):
            for part in HOSTILE_PARTS[::6]:
                answer = asked(real, screen, filled(rule, {**_parts(spoiled, rule), name: part}), "POST", body=body)
                assert 300 <= answer.status < 500, (rule, part, answer.status)
                assert "x-probe" not in answer.head.lower()
                tried += 1
    assert tried > 60 and real.size() == size


VERBS = (
    "GET",
    "HEAD",
    "OPTIONS",
    "POST",
    "PUT",
    "PATCH",
    "DELETE",
    "TRACE",
    "CONNECT",
    "PROPFIND",
    "get",
    "FOO",
    "M-SEARCH",
)


def test_verbs_that_an_address_does_not_take_are_refused(real: Hands, spoiled: Spoiled, site: Site) -> None:
    screen = real.screen(spoiled.all_roles)
    size = real.size()
    for rule in sorted({*rules_of(site.app, "GET"), *rules_of(site.app, "POST")}):
        known = {verb for verb in VERBS if rule in rules_of(site.app, verb)}
        url = filled(rule, {**_parts(spoiled, rule), **(PARTS_OF_NO_SHOP if rule.startswith("/rules") else {})})
        for verb in VERBS:
            answer = asked(real, screen, url, verb)
            if verb in known:
                assert answer.status not in (0, 405) and answer.status < 500, (verb, url)
                continue
            assert answer.status in (400, 403, 405), (verb, url, answer.status)
            assert answer.status != 405 or {"HEAD", "OPTIONS"} & {
                *answer.head.split("Allow: ")[1].split("\r")[0].split(", ")
            }
            assert "Cookie" not in answer.body, "nothing is echoed"
    assert real.size() == size


HEADS = {
    "a folded header": "X-A: 1\r\n X-Probe: yes\r\n",
    "a bare line feed": "X-A: 1\nX-Probe: yes\r\n",
    "a NUL": "X-A: a\0b\r\n",
    "a space before the colon": "X-Probe : yes\r\n",
    "no colon": "nonsense\r\n",
    "two hosts": "Host: elsewhere.example\r\n",
    "two lengths": "Content-Length: 3\r\nContent-Length: 4\r\n",
    "a length below none": "Content-Length: -1\r\n",
    "a length in other digits": "Content-Length: \xb2\r\n",
    "a length and pieces": "Content-Length: 5\r\nTransfer-Encoding: chunked\r\n",
    "an unknown way to send pieces": "Transfer-Encoding: xchunked\r\n",
    "very many headers": "".join(f"X-{k}: 1\r\n" for k in range(200)),
    "a very long header": f"X-A: {'a' * 20_000}\r\n",
    "a very long cookie": f"Cookie: verifier={'a' * 6_000}\r\n",
    "a cookie that is none": "Cookie: verifier=\xff\xfe; ;;=\x7f\r\n",
    "another person's address": "X-Forwarded-For: 10.0.0.1\r\nX-Forwarded-Host: elsewhere.example\r\n",
    "another way": "X-HTTP-Method-Override: DELETE\r\nX-Original-URL: /people\r\n",
    "a range": "Range: bytes=0-1000000000\r\n",
}


@pytest.mark.parametrize("name", HEADS)
def test_hostile_headers_are_refused_or_do_nothing(real: Hands, name: str) -> None:
    answer = asked(real, real.screen("pia"), "/account", more=HEADS[name])
    assert answer.status in (0, 200, 303, NOT_IMPLEMENTED) or 400 <= answer.status < 500, answer.status
    assert "X-Probe" not in answer.head and "elsewhere" not in answer.head + answer.body
    assert real.screen("pia").get("/account").status == 200


@pytest.mark.parametrize("line", [
    "GET http://elsewhere.example/sign-in HTTP/1.1", "GET //elsewhere.example/sign-in HTTP/1.1", "GET /sign-in", "GET  /sign-in HTTP/1.1",
    "GET /sign-in HTTP/9.9", "GET /sign-in\x00 HTTP/1.1", "GET /" + "a" * 9_000 + " HTTP/1.1", "/ HTTP/1.1", "\x16\x03\x01\x02\x00\x01",
])  # fmt: skip
def test_hostile_first_lines_are_refused(real: Hands, line: str) -> None:
    answer = raw(real, f"{line}\r\nHost: 127.0.0.1\r\nConnection: close\r\n\r\n".encode("latin-1"))
    assert answer.status in (0, 200) or 300 <= answer.status < 500, answer.status
    assert "elsewhere" not in answer.head


@pytest.mark.parametrize("wanted", [
    "//elsewhere.example", "/\\elsewhere.example", "https://elsewhere.example", "/at\r\nSet-Cookie: probe=1", "\t//elsewhere.example",
    "/%0d%0aSet-Cookie:%20probe=1", "javascript:probe()", "/\u202e", "///elsewhere.example", "/" + "a" * 600,
])  # fmt: skip
def test_signing_in_leads_nowhere_else(real: Hands, wanted: str) -> None:
    screen = real.screen()
    form = screen.form(f"/sign-in?next={quote(wanted)}", "sign-in")
    answer = screen.send(form, login="pia", password=real.password, next=wanted)
    assert answer.status == 303 and "probe" not in answer.headers.get("set-cookie", "").split(";")[0]
    assert (
        answer.headers["location"] in ("/", "/%250d%250aSet-Cookie:%2520probe=1", wanted)
        and "elsewhere" not in answer.headers["location"]
    )


def test_what_people_typed_cannot_begin_a_line_of_the_log(real: Hands) -> None:
    import json

    real.sign_in(real.screen(), 'x"}\n{"event": "forged"}\r\n', "not this one either")
    assert real.real is not None
    events = [json.loads(line) for line in real.real.log.splitlines() if line.startswith("{")]
    assert events and all(one["event"] != "forged" for one in events)


def test_nothing_hostile_left_a_mark(real: Hands, spoiled: Spoiled) -> None:
    assert words("full-name") in {p.full_name for p in records.people(real.shop)}, "kept as typed"
    real.settle()
