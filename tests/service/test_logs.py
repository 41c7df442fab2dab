"""Logs: one JSON object a line, what happened and who, and never a secret."""

from __future__ import annotations

import io
import json
import logging
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from flask import Blueprint, request
from service_shop import PASSWORD, PIN, Site, site_on

from verifier.service.logs import JsonLines, log_to


@pytest.fixture
def lines() -> Iterator[io.StringIO]:
    stream = io.StringIO()
    log_to(stream)
    yield stream
    logging.getLogger("verifier.service").handlers[:] = []


def events(stream: io.StringIO) -> list[dict[str, object]]:
    return [json.loads(line) for line in stream.getvalue().splitlines()]


def test_a_request_is_told_with_its_id_person_route_and_status(site: Site, lines: io.StringIO) -> None:
    site.client("pia").get("/people?secret=in-the-query")
    last = events(lines)[-1]
    assert (last["event"], last["path"], last["status"], last["person"]) == ("request", "/people", 403, "pia")
    assert last["id"] and last["from"] == "127.0.0.1" and str(last["at"]).endswith("+00:00")


def test_no_secret_is_ever_logged(site: Site, lines: io.StringIO) -> None:
    admin = site.client("ada")
    admin.sign_in("pia", "a wrong password 99")
    admin.sign_in("my password typed as login")
    admin.sign_in("ada")
    shown = admin.post(f"/people/{site.person('otto').id}", {"what": "code", "pin": PIN}).text
    code = re.search(r'class="keep">([0-9A-Z-]{19})<', shown)
    assert code
    admin.post("/people", {"login": "x", "full_name": "X", "role": "lead", "pin": "999333"})
    for secret in (
        PASSWORD, PIN, "a wrong password 99", "my password typed as login", "999333", code.group(1), str(admin.cookie()), admin.token,
        (site.folder / "server.key").read_text().strip(),
    ):  # fmt: skip
        assert secret not in lines.getvalue()
    assert {"signed in", "sign-in refused", "code given", "refused"} & {str(e["event"]) for e in events(lines)}


def test_a_mistake_of_the_code_is_told_with_its_place_but_without_the_requests_secrets(
    folder: Path, lines: io.StringIO
) -> None:
    site = site_on(folder)
    probe = Blueprint("probe", __name__)

    @probe.post("/break")
    def broken() -> str:
        raise RuntimeError(f"cannot use {request.form['password']} and {request.cookies['verifier']}")

    site.app.register_blueprint(probe)
    browser = site.client("pia")
    answer = browser.post("/break", {"password": "the-secret-itself"})
    found = [e for e in events(lines) if e["event"] == "mistake"]
    assert answer.status_code == 500 and len(found) == 1
    assert "the-secret-itself" not in lines.getvalue() and str(browser.cookie()) not in lines.getvalue()
    assert found[0]["type"] == "RuntimeError" and "broken" in str(found[0]["frames"])
    assert str(found[0]["id"]) in answer.text


@pytest.mark.parametrize("text", ["a\r\nb", "a\u2028b", "a\x1b[31mb", "a\x85b", "a\x00b"])
def test_nothing_from_outside_begins_a_line_of_its_own(text: str) -> None:
    record = logging.LogRecord("x", logging.INFO, "", 0, "request", (), None)
    record.facts = {"path": text}
    line = JsonLines().format(record)
    assert line.isascii() and line.isprintable() and json.loads(line)["path"] == text
