"""More that the service must refuse: forms of other sites, tokens beyond their scopes, screens of other machines, strange bytes."""

from __future__ import annotations

import base64
import re
from typing import Any

from flask import Flask
from hands import Answer, Hands, Screen
from refusals import by_hand, check, refused, sent_away
from service_shop import PIN

from verifier import records
from verifier.machines import generic_lathe
from verifier.service.blueprints import BLUEPRINTS

PARTS = re.compile(r"<(?:[^:<>]+:)?(\w+)>")


def routes(method: str) -> list[str]:
    """Every address of the service for a method, as the application has it."""
    app = Flask("routes", static_folder=None)
    for blueprint in BLUEPRINTS:
        app.register_blueprint(blueprint)
    return sorted({rule.rule for rule in app.url_map.iter_rules() if method in (rule.methods or ())})


CROSS = [
    {"Origin": "https://elsewhere.example"}, {"Origin": "null"}, {"Origin": "http://127.0.0.1:1"}, {"Origin": ""},
    {"Sec-Fetch-Site": "cross-site"}, {"Sec-Fetch-Site": "same-site"}, {"Sec-Fetch-Site": "Same-Origin"},
]  # fmt: skip


@check
def every_form_from_another_site_or_without_its_token(h: Hands) -> None:
    screen, other = h.screen(h.person("lead", "programmer", "operator", "administrator")), h.screen("leo")
    r = h.released()
    size = h.size()
    for rule in routes("POST"):
        values = {
            "target": "L1",
            "machine": "L1",
            "program": r.program,
            "number": str(r.id),
            "n": "1",
            "which": "1",
            "name": "L1",
        }
        url = PARTS.sub(lambda m, v=values: v[m.group(1)], rule)  # type: ignore[misc]
        given = {"pin": PIN, "reason": "r", "verdict": "approve", "revision": str(r.id)}
        screen.get("/account")
        for headers in CROSS:
            answer = screen.post(url, given, headers=headers)
            assert answer.status == 403 and "another site" in answer.text, (url, headers, answer.status)
        for token in ("", "0" * 64, other.browser.token, screen.browser.token[:-1], "\u00e9" * 64):
            answer = screen.post(url, {**given, "form_token": token})
            assert answer.status == 403 and "not from your present session" in answer.text, (url, token, answer.status)
    assert h.size() == size and screen.get("/account").status == 200, "not even signed out"


# -- programs with tokens


def token(h: Hands, login: str, *scopes: str) -> str:
    h.made += 1
    secret = f"token-{login}-{h.made}-of-the-check"
    h.secrets.add(secret)
    person = records.find_person(h.shop, login).id
    records.make_token(h.shop, person, "check", secret, scopes or records.SCOPES, 5)
    return secret


def call(h: Hands, secret: str, what: str, body: Any, key: str = "") -> Answer:
    """A program's request, with its token and perhaps a key."""
    headers = {"Authorization": f"Bearer {secret}", **({"Idempotency-Key": key} if key else {})}
    return h.screen().send_json(f"/api/v1/programs/L1/{what}", body, headers)


def sent(body: bytes) -> str:
    return base64.b64encode(body).decode()


@check
def a_request_of_a_program_that_is_sent_twice(h: Hands) -> None:
    name, secret = h.name(), token(h, "pia")
    given = {"program": sent(h.text(name)), "reason": "once"}
    first = call(h, secret, f"{name}/revisions", given, "key-1")
    again = call(h, secret, f"{name}/revisions", given, "key-1")
    other = call(h, secret, f"{name}/revisions", {**given, "reason": "other"}, "key-1")
    elsewhere = call(h, secret, f"{h.name()}/revisions", given, "key-1")
    assert (first.status, again.status, other.status, elsewhere.status) == (201, 201, 422, 422)
    assert first.data == again.data and h.acts(name) == ["submitted"]


@check
def a_token_beyond_its_scopes(h: Hands) -> None:
    r = h.held()
    reads, signs = token(h, "leo", "read"), token(h, "pia", "decide")
    given = {"pin": PIN, "verdict": "approve", "reason": "r", "report": r.report_digest}
    where = f"{r.program}/revisions/1/decision"
    for secret, code in ((reads, "wrong_scope"), (signs, "wrong_role")):
        answer = call(h, secret, where, given)
        assert answer.status == 403 and f'"{code}"' in answer.text, (answer.status, answer.text)
    assert h.screen().get("/account", {"Authorization": f"Bearer {token(h, 'leo')}"}).status == 401, "no page of people"
    assert h.screen("leo").get("/account", {"Authorization": "Bearer wrong"}).status == 401, (
        "no falling back on the cookie"
    )
    assert h.state(r) == "held"


@check
def a_program_that_decides_on_another_report_or_without_a_pin(h: Hands) -> None:
    r, secret = h.held(), token(h, "leo")
    given = {"pin": PIN, "verdict": "approve", "reason": "r", "report": r.report_digest}
    where = f"{r.program}/revisions/1/decision"
    for change, status, code in (
        ({"report": "0" * 64}, 409, "stale_report"),
        ({"pin": "123987"}, 403, "sign_in_again"),
        ({"verdict": "maybe"}, 422, "bad_form"),
        ({"reason": " "}, 422, "reason_missing"),
        ({"more": "x"}, 422, "bad_form"),
    ):
        answer = call(h, secret, where, {**given, **change})
        assert answer.status == status and f'"{code}"' in answer.text, (answer.status, answer.text)
    assert h.state(r) == "held"
    assert call(h, secret, where, given).status == 200


@check
def a_confirmation_without_the_pin_by_code_or_readings(h: Hands) -> None:
    first = h.released()
    edited = h.released(h.text(first.program, "X48.", "X47.6"), first.program)
    otto = h.screen("otto")
    words = next(r for r in h.at("L1") if r.program == first.program).challenge
    given = {"code": edited.check_code, "word1": words[0].word, "word2": words[1].word}
    form = otto.form(f"/at/L1/{first.program}", "confirm")
    refused(otto.send(form, **given, pin="123987"), 403, "PIN")
    refused(otto.send(form, **{**given, "word2": "X1."}), 409, "words read from the control")
    refused(otto.send(form, **{**given, "code": "ZZZZ9999"}), 409, "check code is not that")
    assert [r.confirmed for r in h.at("L1") if r.program == first.program] == [None]
    assert otto.send(form, **given).status == 303
    trial = h.held(h.text(first.program, "X48.", "X46."), first.program)
    assert h.decide(h.screen("leo"), trial, "prove-out", machine="L1", days="1").status == 303
    h.until(lambda: all(r.at_machine for r in h.at("L1") if r.program == first.program))
    form = otto.form(f"/at/L1/{first.program}", "confirm")
    refused(otto.send(form, readings="46.01", pin="123987"), 403, "PIN")
    assert h.state(trial) == "prove-out"
    assert otto.send(form, readings="46.01").status == 303 and h.state(trial) == "cleared"


# -- at the machines


@check
def bytes_that_no_control_sent_back(h: Hands) -> None:
    r, otto = h.released(), h.screen("otto")
    otto.get("/account")
    for sha in (r.sha, "0" * 64, "", "../x"):
        answer = otto.post(f"/at/L1/{r.program}/submit", {"sha": sha, "reason": "r"})
        refused(answer, 409, "not what was last read back here")
    assert h.newest(r.program).n == 1


@check
def a_file_taken_over_while_the_cycle_runs(h: Hands) -> None:
    if "L4" not in {m.name for m in records.machines(h.shop)}:
        ada = h.screen("ada")
        profile = {"profile": ("l4.toml", generic_lathe_text())}
        made = ada.act("/machine-files", "machine-files", profile, name="L4", folder="floor/L4", takeover="yes")
        assert made.status == 303, made.text
    r = h.cleared(target="L4")
    assert h.screen("pia").act(f"/revisions/{r.id}", "release").status == 303
    otto = h.screen("otto")
    form = otto.form(f"/at/L4/{r.program}", "take-over")
    for stopped in ("", "no", "on"):
        refused(otto.send(form, stopped=stopped), 422, "cycle has to be stopped")
    refused(otto.send(form, stopped="yes", pin="123987"), 403, "PIN")
    assert not h.file(r.program, "L4").exists()
    assert otto.send(form, stopped="yes").status == 303
    h.until(lambda: h.file(r.program, "L4").exists())


def generic_lathe_text() -> bytes:
    from verifier.machines import machine_text

    return machine_text(generic_lathe()).encode()


@check
def a_screen_of_another_machine(h: Hands) -> None:
    """A machine's screen is for that machine and for operators' acts, whoever stands there."""
    login = h.person("lead", "operator", "programmer", "administrator")
    held, both = h.held(), h.released(target="PAIR")
    h.made += 1
    admin = h.screen("ada")
    forms = [f for f in admin.get("/machine-files/L2").forms if f.fields.get("what") == ["screen"]]
    forms[0].action = "/machine-files/L2"
    assert admin.send(forms[0], screen=f"screen {h.made}").status == 303
    assert admin.act("/account", "sign-out").status == 303
    refused(admin.act("/here", "here", login=login, pin="123987"), 403)
    assert admin.act("/here", "here", login=login).status == 303
    h.secrets.add(admin.cookie())
    _acts_at_a_screen(h, admin, held, both)


def _acts_at_a_screen(h: Hands, here: Screen, held: records.RevisionFacts, both: records.RevisionFacts) -> None:
    size = h.size()
    for url in ("/people", "/machine-files", "/policy", "/decide", "/submit"):
        refused(here.get(url), 403)
    refused(by_hand(h, here, held, "decide"), 403)
    refused(by_hand(h, here, both, "recall"), 403)
    given = {"revision": str(both.id), "pin": PIN, "reason": "r", "text": h.text(both.program).decode()}
    for act in ("readback", "confirm", "go-back", "take-over"):
        refused(here.post(f"/at/L3/{both.program}/{act}", given), 403, "stands at L2")
    token_of = {"X-Form-Token": here.browser.token}
    answer = here.send_json(f"/api/v1/programs/L1/{held.program}/revisions/1/recall", {"reason": "r"}, token_of)
    assert answer.status == 403
    assert h.size() == size
    done = here.act(f"/at/L2/{both.program}", "readback", {"sent": ("o.nc", h.text(both.program))})
    assert done.status == 303, done.refused
    assert here.act("/account", "sign-out").status == 303
    sent_away(here.get("/account"))
