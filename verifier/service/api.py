"""The same acts for programs: JSON below /api/v1, one route for each row of the table of operations."""

from __future__ import annotations

import re
from collections.abc import Callable
from hashlib import sha256

from flask import Blueprint, current_app, jsonify, request
from pydantic import BaseModel
from werkzeug.wrappers import Response

from verifier import records
from verifier.service.api_parse import query, stop, taken
from verifier.service.api_views import VIEWS
from verifier.service.context import current, needs, service, shop
from verifier.service.logs import event
from verifier.service.openapi import OPERATIONS, PREFIX, Operation, document
from verifier.source import ActRefused

api = Blueprint("api", __name__, url_prefix=PREFIX)

_KEY = re.compile(r"[!-~]{1,128}")
_AGAIN = "Idempotency-Key"


@api.get("/openapi.json")
def openapi() -> Response:
    """The document of this API; it holds no secret and needs no token."""
    return jsonify(document())


def _route(op: Operation) -> Callable[..., Response]:
    """The view of one operation: who may, what was sent, whether it was sent before, and the answer."""

    @needs(*op.roles, scope=op.scope)
    def view(**parts: str | int) -> Response:
        if current().terminal is not None:
            raise ActRefused("wrong_role", "a machine's screen has pages of its own", "use a token")
        if op.taken is None:
            more = {"asked": query(op.query)} if op.query else {}
            return _answer(op.status, _content(VIEWS[op.name](**parts, **more)))
        given = taken(op)
        key = request.headers.get(_AGAIN)
        if key is None:
            return _answer(op.status, _act(op, parts, given))
        return _once(op, key, parts, given)

    return view


def _act(op: Operation, parts: dict[str, str | int], given: BaseModel) -> bytes:
    done = VIEWS[op.name](**parts, given=given)
    event("api act", act=op.name, **{name: str(value)[:64] for name, value in parts.items()})
    return _content(done)


def _once(op: Operation, key: str, parts: dict[str, str | int], given: BaseModel) -> Response:
    """Carry out an act whose request came with a key: once, however often it is sent."""
    if not _KEY.fullmatch(key):
        stop(422, "bad_key", f"{_AGAIN} is 1 to 128 signs without blanks")
    person = current().person.id
    claim = records.claim_answer(shop(), person, key, _mark(given))
    if claim.kind == "other":
        stop(422, "key_used", f"this {_AGAIN} was used with another request", "take a new key for a new request")
    if claim.kind == "running":
        stop(409, "key_running", "the request with this key is still being carried out", "ask again in a moment")
    if claim.kind == "kept":
        return _answer(claim.status, claim.content)
    if claim.kind == "lost":
        stop(
            409,
            "answer_lost",
            "this was carried out, but its answer was lost",
            "look at the history for what came of it",
        )
    try:
        with records.answering(person, key, claim):
            content = _act(op, parts, given)
    except BaseException:
        records.drop_claim(shop(), person, key, claim)
        raise
    records.keep_answer(shop(), person, key, claim, op.status, content)
    return _answer(op.status, content)


def _mark(given: BaseModel) -> str:
    """What is kept of a request: keyed, because a request may hold a PIN, and a PIN is short."""
    text = f"{request.method} {request.path}\n{given.model_dump_json()}"
    return service().key.keyed("request", sha256(text.encode()).hexdigest())


def _content(answer: BaseModel) -> bytes:
    return answer.model_dump_json().encode()


def _answer(status: int, content: bytes) -> Response:
    return current_app.response_class(content, status, content_type="application/json")


for _op in OPERATIONS:
    api.add_url_rule(_op.path, _op.name, _route(_op), methods=[_op.method])
