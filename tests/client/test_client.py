"""The client against the real server, and against a server that fails."""

from __future__ import annotations

import json
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "service"))

from api_site import BODY, token
from service_shop import PIN, Site, make_shop, running, site_on

from verifier import records
from verifier.client import Client
from verifier.source import ActRefused, SourceRefused, StoreError, VerifierError


def test_the_whole_way_over_a_real_server(tmp_path: Path) -> None:
    folder = tmp_path / "shop"
    make_shop(folder)
    site: Site = site_on(folder)
    site.clock.now = 4_000_000_000_000_000  # tokens are made to last: the server runs on the real clock
    names = {login: token(site, login, days=366) for login in ("pia", "leo", "otto")}
    with running(folder, workers=2) as server:
        pia, leo, otto = (Client(server.base, names[login]) for login in ("pia", "leo", "otto"))
        assert pia.me()["login"] == "pia" and "paths" in pia.openapi() and pia.rules()
        done = pia.submit("L1", "O1001", BODY, "first")
        assert done.revision.state == "held" and done.texts and leo.in_state("held") == (done.revision,)
        with pytest.raises(ActRefused) as stale:
            leo.decide("L1", "O1001", 1, PIN, "approve", "looked", "0" * 64)
        assert stale.value.code == "stale_report"
        report = leo.reports("L1", "O1001", 1)[0]["digest"]
        assert leo.decide("L1", "O1001", 1, PIN, "approve", "looked", report).state == "cleared"
        assert pia.release("L1", "O1001", 1, PIN, "go").releases[0].machine == "L1"
        back = otto.readback("L1", "O1001", 1, BODY)
        assert back.equal and otto.confirm("L1", "O1001", 1, PIN, readback=back.id).strength == "strong"
        found, sent = leo.readback_by_number(back.id)
        assert sent == BODY and found.confirmed and (found.operator, found.n) == ("Operator O", 1)
        assert leo.readbacks("L1", "O1001") == (found,)
        assert leo.at_machine("L1")[0].confirmed and leo.programs()[0].standing == (("L1", 1),)
        assert leo.machines()[0].name == "L1" and leo.history("L1", "O1001")[-1].person == "Operator O"
        assert leo.revision("L1", "O1001", 1) == leo.revisions("L1", "O1001")[0]
        with pytest.raises(SourceRefused) as refused:
            pia.submit("L1", "O1001", b"PK\x03\x04" + bytes(range(256)) * 8, "no program")
        assert refused.value.problems[0].message
        with pytest.raises(ActRefused) as nobody:
            Client(server.base, "not-a-token").me()
        assert nobody.value.code == "bad_token"
        for one in (pia, leo, otto):
            one.close()
    assert records.verify_ledger(folder).faults == ()


Said = tuple[int, dict[str, Any]]


@contextmanager
def saying(answers: list[Said | None]) -> Iterator[tuple[str, list[str]]]:
    """A server that gives these answers in order (None: hangs up), and the keys it was sent."""
    keys: list[str] = []

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            self.rfile.read(int(self.headers.get("Content-Length", 0)))
            self.do_GET()

        def do_GET(self) -> None:
            keys.append(self.headers.get("Idempotency-Key", ""))
            said = answers[len(keys) - 1]
            if said is None:
                self.connection.close()
                return
            body = json.dumps(said[1]).encode()
            self.send_response(said[0])
            self.send_header("Content-Type", "application/json")
            self.send_header("Content-Length", str(len(body)))
            self.send_header("Location", "http://127.0.0.1:9/")
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *_: Any) -> None:
            return

    server = HTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever, args=(0.02,), daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}", keys
    finally:
        server.shutdown()
        server.server_close()
        thread.join(5)


STOP = {"program": "O1", "n": 1, "sha": "0", "machines": ["L1"]}
BUSY = {"code": "busy", "detail": "busy", "status": 503}


def test_an_act_is_repeated_with_its_key_and_only_so() -> None:
    waited: list[float] = []
    running_yet = {"code": "key_running", "detail": "wait", "status": 409}
    with saying([None, (503, BUSY), (409, running_yet), (200, STOP)]) as (base, keys):
        found = Client(base, "t", sleep=waited.append).recall("L1", "O1", 1, PIN, "r")
    assert found.machines == ("L1",) and len(waited) == 3 and len(keys) == 4 and len(set(keys)) == 1 and keys[0]


def test_another_act_has_another_key() -> None:
    with saying([(200, STOP), (200, STOP)]) as (base, keys):
        client = Client(base, "t")
        client.recall("L1", "O1", 1, PIN, "r")
        client.recall("L1", "O1", 1, PIN, "r")
    assert keys[0] != keys[1]


@pytest.mark.parametrize("status", [400, 401, 403, 404, 409, 422, 429])
def test_a_refusal_is_told_at_once_and_with_its_code(status: int) -> None:
    with (
        saying([(status, {"code": "some_code", "detail": "why", "hint": "do this"})]) as (base, keys),
        pytest.raises(ActRefused) as refused,
    ):
        Client(base, "t", sleep=lambda _: None).recall("L1", "O1", 1, PIN, "r")
    assert (refused.value.code, refused.value.message, refused.value.hint) == ("some_code", "why", "do this")
    assert len(keys) == 1


def test_a_service_that_stays_busy_or_away_is_an_error_of_the_store() -> None:
    with saying([(503, BUSY)] * 4) as (base, keys), pytest.raises(StoreError, match="busy"):
        Client(base, "t", sleep=lambda _: None).machines()
    assert len(keys) == 4
    with pytest.raises(StoreError, match="does not answer"):
        Client(base, "t", sleep=lambda _: None, tries=2).machines()


def test_a_token_is_never_sent_on_to_another_address() -> None:
    with saying([(302, {})]) as (base, keys), pytest.raises(StoreError, match="not this service"):
        Client(base, "t").machines()
    assert len(keys) == 1


@pytest.mark.parametrize("given", [{}, {"program": "O1"}, {"machines": 3}])
def test_an_answer_in_another_form_is_an_error_of_the_store(given: dict[str, Any]) -> None:
    with saying([(200, given)]) as (base, _), pytest.raises(StoreError):
        Client(base, "t").recall("L1", "O1", 1, PIN, "r")


@pytest.mark.parametrize(
    "url", ["", "shop", "ftp://a", "http://", "http://lathe-office", "https://a:b@c", "http://[::1"]
)
def test_an_address_that_is_none_or_unencrypted_is_refused(url: str) -> None:
    with pytest.raises(VerifierError):
        Client(url, "t")


@pytest.mark.parametrize("secret", ["", "a\nb", "é"])
def test_a_token_that_is_none_is_refused(secret: str) -> None:
    with pytest.raises(VerifierError):
        Client("http://127.0.0.1:1", secret)
