"""The OpenAPI document against the code: its routes, its schemas, and that every status it names does happen."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
from api_site import API, AT, BODY, Caller, answer_faults, b64, faults, submission
from service_shop import PIN, Site
from standing_walk import accept, key_of, waiting

from verifier.service.openapi import OPERATIONS, Operation, document, template

FILLED = {"target": "L1", "program": "O1001", "n": 1, "machine": "L1", "number": 1}
GOOD: dict[str, dict[str, Any]] = {
    "submit": submission(),
    "decide": {"pin": PIN, "verdict": "approve", "reason": "r", "report": "0" * 64},
    "check_again": {"pin": PIN},
    "accept": {"pin": PIN, "hazard": "0" * 64, "reason": "r", "report": "0" * 64},
    "withdraw_acceptance": {"pin": PIN, "reason": "r"},
    "release": {"pin": PIN, "reason": "r"},
    "withdraw": {"pin": PIN, "reason": "r"},
    "recall": {"pin": PIN, "reason": "r"},
    "readback": {"program": b64(BODY)},
    "confirm": {"pin": PIN, "code": "AAAAAAAA", "words": ["X1.", "Z1."]},
    "take_over": {"pin": PIN},
    "go_back": {"pin": PIN, "reason": "r"},
    "write_again": {"pin": PIN, "reason": "r"},
}
WHO = {"submit": "pia", "withdraw": "pia", "release": "pia", "readback": "otto", "confirm": "otto", "take_over": "otto"}


def path_of(op: Operation, **parts: object) -> str:
    return API + template(op.path).format(**{**FILLED, **parts})


def test_every_route_is_in_the_document_and_the_other_way_round(site: Site) -> None:
    routes = set()
    for rule in site.app.url_map.iter_rules():
        if rule.rule.startswith(API + "/"):
            routes |= {(method, template(rule.rule)[len(API) :]) for method in rule.methods - {"HEAD", "OPTIONS"}}
    told = {(method.upper(), path) for path, item in document()["paths"].items() for method in item}
    assert routes == told


def test_the_document_is_served_and_its_references_lead_somewhere(site: Site) -> None:
    answer = site.app.test_client().get(API + "/openapi.json")
    assert answer.status_code == 200 and answer.get_json()["openapi"] == "3.1.0"
    text, known = json.dumps(document()), document()["components"]["schemas"]
    used = {part.split('"')[0] for part in text.split("#/components/schemas/")[1:]}
    assert used <= set(known)
    names = [item["operationId"] for path in document()["paths"].values() for item in path.values()]
    assert len(names) == len(set(names))


def test_the_checker_of_schemas_finds_what_is_wrong() -> None:
    schema = {"$ref": "#/components/schemas/Me"}
    good = {"login": "a", "full_name": "A", "roles": ["lead"], "scopes": None}
    assert faults(good, schema, document()) == []
    for bad in (
        {**good, "login": 1},
        {**good, "more": 1},
        {**good, "roles": [True]},
        {"login": "a"},
        {**good, "scopes": 3},
    ):
        assert faults(bad, schema, document()) != []


def _ask(site: Site, op: Operation, caller: Caller, path: str, **more: Any) -> Any:
    if op.method == "GET":
        return caller.get(path)
    return caller.post(path, **(more or {"body": GOOD[op.name]}))


def _held(site: Site) -> None:
    assert Caller(site, "pia").post(AT + "/revisions", submission()).status_code == 201


def _nobody(site: Site, op: Operation) -> Any:
    caller = Caller(site, "leo")
    caller.headers = {"Authorization": "Bearer nothing"}
    return _ask(site, op, caller, path_of(op))


def _elsewhere(site: Site, op: Operation) -> Any:
    return _ask(site, op, _able(site, op), path_of(op, target="L9", machine="L9"))


def _able(site: Site, op: Operation) -> Caller:
    return Caller(site, WHO.get(op.name, "leo"))


def _late(site: Site, op: Operation) -> Any:
    """An act on a revision that is only held, or (a submission, a withdrawal) on bytes that are further on."""
    if op.name == "withdraw_acceptance":
        return _withdrawn_twice(site, op)
    _held(site)
    if op.name in ("submit", "withdraw"):
        digest = Caller(site, "leo").get(AT + "/revisions/1").get_json()["revision"]["report_digest"]
        given = {**GOOD["decide"], "report": digest}
        assert Caller(site, "leo").post(AT + "/revisions/1/decision", given).status_code == 200
        assert Caller(site, "pia").post(AT + "/revisions/1/release", {"pin": PIN, "reason": "go"}).status_code == 200
    return _ask(site, op, _able(site, op), path_of(op))


def _withdrawn_twice(site: Site, op: Operation) -> Any:
    found = waiting(site)
    assert accept(site.client("leo"), found, key_of(site, found)).status_code == 303
    path = path_of(op, program=found.program)
    assert Caller(site, "leo").post(path, GOOD[op.name]).status_code == 200
    return Caller(site, "leo").post(path, GOOD[op.name])


def _unfit(site: Site, op: Operation) -> Any:
    if op.query:
        return _able(site, op).get(path_of(op) + "?unknown=1")
    if op.method == "GET":
        return _able(site, op).get(path_of(op, program="bad name"))
    return _ask(site, op, _able(site, op), path_of(op), body={**GOOD[op.name], "unknown": 1})


def _too_often(site: Site, op: Operation) -> Any:
    path = path_of(op)
    if op.name == "withdraw_acceptance":
        found = waiting(site)
        accept(site.client("leo"), found, key_of(site, found))
        path = path_of(op, program=found.program)
    else:
        _held(site)
    caller, given = _able(site, op), {**GOOD[op.name], "pin": "111222"}
    for _ in range(site.config.tries):
        assert caller.post(path, given).status_code == 403
    return caller.post(path, given)


PROVOKED: dict[int, Callable[[Site, Operation], Any]] = {
    400: lambda s, op: _ask(s, op, _able(s, op), path_of(op), data=b"{", content_type="application/json"),
    401: _nobody,
    403: lambda s, op: _ask(s, op, Caller(s, "leo", "administer"), path_of(op)),
    404: _elsewhere,
    409: _late,
    413: lambda s, op: _ask(
        s, op, _able(s, op), path_of(op), data=b"1" * (s.config.upload_limit + 600_000), content_type="application/json"
    ),
    415: lambda s, op: _ask(s, op, _able(s, op), path_of(op), data=b"{}", content_type="text/plain"),
    422: _unfit,
    429: _too_often,
}


@pytest.mark.parametrize("op", OPERATIONS, ids=lambda op: op.name)
def test_every_refusal_that_the_document_names_can_happen(op: Operation, site: Site) -> None:
    for status in op.statuses():
        if status in (409, 429):
            continue  # these need a shop that is further on: below
        answer = PROVOKED[status](site, op)
        assert answer.status_code == status, (status, answer.text)
        assert answer_faults(answer, op.method, template(op.path), document()) == []


@pytest.mark.parametrize("status", [409, 429])
@pytest.mark.parametrize("op", [op for op in OPERATIONS if op.taken], ids=lambda op: op.name)
def test_every_conflict_and_lock_that_the_document_names_can_happen(op: Operation, status: int, site: Site) -> None:
    if status not in op.statuses():
        assert op.name in ("submit", "readback"), "every other act asks for the PIN, and counts wrong ones"
        return
    answer = PROVOKED[status](site, op)
    assert answer.status_code == status, answer.text
    assert answer_faults(answer, op.method, template(op.path), document()) == []
