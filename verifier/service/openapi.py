"""The API as one table of operations, and the OpenAPI document that is made from it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from typing import Any

from pydantic import BaseModel
from pydantic.json_schema import models_json_schema

from verifier.service import api_models as m
from verifier.version import VERSION

PREFIX = "/api/v1"
_PROGRAM = "/programs/<target>/<program>"
_NUMBER = "<int(max=999999999):"
_N = _PROGRAM + f"/revisions/{_NUMBER}n>"
_PART = re.compile(r"<(?:(int)[^:>]*:)?(\w+)>")


@dataclass(frozen=True, slots=True)
class Operation:
    """One operation: its end point's name, how it is asked for, who may, and what it takes and gives.

    `refusals` are the statuses that belong to it, besides those that every operation of its kind has.
    """

    name: str
    method: str
    path: str
    scope: str | None
    summary: str
    answer: type[BaseModel]
    taken: type[BaseModel] | None = None
    query: type[BaseModel] | None = None
    roles: tuple[str, ...] = ()
    status: int = 200
    refusals: tuple[int, ...] = ()
    files: tuple[str, ...] = ()

    def statuses(self) -> tuple[int, ...]:
        """Every status of a refusal that is documented."""
        common = (401, 403) + ((422,) if self.query else ())
        acts = (400, 413, 415, 422) if self.taken else ()
        return tuple(sorted({*common, *acts, *self.refusals}))


_SIGN = ("programmer", "lead")

OPERATIONS: tuple[Operation, ...] = (
    Operation("me", "GET", "/me", "read", "who this token acts for", m.Me),
    Operation("programs", "GET", "/programs", "read", "programs by id", m.Programs, query=m.Paging),
    Operation("in_state", "GET", "/revisions", "read", "revisions in a state", m.Revisions, query=m.InState),
    Operation(
        "revisions",
        "GET",
        _PROGRAM + "/revisions",
        "read",
        "revisions of a program",
        m.Revisions,
        refusals=(404, 422),
    ),
    Operation("revision", "GET", _N, "read", "a revision with its reports", m.RevisionWithReports, refusals=(404, 422)),
    Operation(
        "nearest",
        "GET",
        _N + "/nearest",
        "read",
        "a comparison with the nearest program of the library, for information",
        m.Compared,
        refusals=(404, 409, 422),
    ),
    Operation("history", "GET", _PROGRAM + "/history", "read", "acts on a program", m.History, refusals=(404, 422)),
    Operation(
        "acceptances",
        "GET",
        _PROGRAM + "/acceptances",
        "read",
        "hazards of a program that were accepted",
        m.Acceptances,
        refusals=(404, 422),
    ),
    Operation("machines", "GET", "/machines", "read", "every machine", m.Machines),
    Operation("at_machine", "GET", "/machines/<machine>", "read", "what a machine holds", m.Standing, refusals=(404,)),
    Operation(
        "readbacks",
        "GET",
        "/machines/<machine>/programs/<program>/readbacks",
        "read",
        "what was read back of a program at a machine",
        m.Readbacks,
        refusals=(404, 422),
    ),
    Operation(
        "one_readback",
        "GET",
        f"/readbacks/{_NUMBER}number>",
        "read",
        "a read-back with its bytes",
        m.ReadbackWithBytes,
        refusals=(404,),
    ),
    Operation("rules", "GET", "/rules", "read", "every rule", m.Rules),
    Operation(
        "submit",
        "POST",
        _PROGRAM + "/revisions",
        "submit",
        "hand in a program",
        m.Submitted,
        m.Submission,
        roles=_SIGN,
        status=201,
        refusals=(404, 409),
        files=("program", "setup"),
    ),
    Operation(
        "check_again",
        "POST",
        _N + "/check-again",
        "submit",
        "put a held revision on reports computed now",
        m.CheckedAgain,
        m.Signed,
        roles=_SIGN,
        refusals=(404, 409, 429),
    ),
    Operation(
        "decide",
        "POST",
        _N + "/decision",
        "decide",
        "decide on a held revision",
        m.Revision,
        m.Decision,
        roles=("lead",),
        refusals=(404, 409, 429),
    ),
    Operation(
        "accept",
        "POST",
        _N + "/acceptances",
        "decide",
        "accept a hazard that stood before",
        m.Acceptance,
        m.Accepting,
        roles=("lead",),
        status=201,
        refusals=(404, 409, 429),
    ),
    Operation(
        "withdraw_acceptance",
        "POST",
        _PROGRAM + f"/acceptances/{_NUMBER}number>/withdrawal",
        "decide",
        "withdraw an acceptance",
        m.Acceptance,
        m.SignedBecause,
        roles=("lead",),
        refusals=(404, 409, 429),
    ),
    Operation(
        "release",
        "POST",
        _N + "/release",
        "release",
        "release a cleared revision",
        m.Released,
        m.Releasing,
        roles=_SIGN,
        refusals=(404, 409, 429),
    ),
    Operation(
        "withdraw",
        "POST",
        _N + "/withdrawal",
        "submit",
        "withdraw a revision of one's own",
        m.Revision,
        m.SignedBecause,
        refusals=(404, 409, 429),
    ),
    Operation(
        "recall",
        "POST",
        _N + "/recall",
        "release",
        "recall a revision at once",
        m.Stop,
        m.SignedBecause,
        roles=("lead",),
        refusals=(404, 409, 429),
    ),
    Operation(
        "readback",
        "POST",
        _N + "/readbacks",
        "confirm",
        "compare what a control sent back",
        m.Readback,
        m.SentBack,
        roles=("operator", "lead"),
        status=201,
        refusals=(404, 409),
        files=("program",),
    ),
    Operation(
        "confirm",
        "POST",
        _N + "/confirmations",
        "confirm",
        "confirm what a machine holds",
        m.Confirmed,
        m.Confirmation,
        roles=("operator",),
        status=201,
        refusals=(404, 409, 429),
    ),
    Operation(
        "take_over",
        "POST",
        _N + "/take-over",
        "confirm",
        "let a waiting file appear",
        m.Jobs,
        m.AtMachine,
        roles=("operator",),
        refusals=(404, 409, 429),
    ),
    Operation(
        "go_back",
        "POST",
        _PROGRAM + "/go-back",
        "confirm",
        "go back to the last proven revision",
        m.Released,
        m.AtMachineBecause,
        roles=("operator", "lead"),
        refusals=(404, 409, 429),
    ),
    Operation(
        "write_again",
        "POST",
        _PROGRAM + "/write-again",
        "release",
        "write the released file again",
        m.Released,
        m.AtMachineBecause,
        roles=("lead",),
        refusals=(404, 409, 429),
    ),
)


def template(path: str) -> str:
    """A route's path as OpenAPI writes it."""
    return _PART.sub(r"{\2}", path)


@cache
def document() -> dict[str, Any]:
    """The OpenAPI 3.1 document. It is shared: whoever wants to change it takes a copy."""
    paths: dict[str, dict[str, Any]] = {
        "/openapi.json": {
            "get": {
                "operationId": "openapi",
                "summary": "this document",
                "security": [],
                "responses": {"200": _content({"type": "object"}, "the document")},
            }
        }
    }
    for op in OPERATIONS:
        paths.setdefault(template(op.path), {})[op.method.lower()] = _operation(op)
    return {
        "openapi": "3.1.0",
        "info": {"title": "verifier", "version": VERSION},
        "servers": [{"url": PREFIX}],
        "security": [{"token": []}],
        "paths": paths,
        "components": {
            "schemas": _schemas(),
            "securitySchemes": {"token": {"type": "http", "scheme": "bearer"}},
        },
    }


def _schemas() -> dict[str, Any]:
    taken = [(op.taken, "validation") for op in OPERATIONS if op.taken]
    given = [(op.answer, "serialization") for op in OPERATIONS]
    wanted: list[Any] = [*dict.fromkeys([*taken, *given]), (m.Problem, "validation")]
    _, found = models_json_schema(wanted, ref_template="#/components/schemas/{model}")
    schemas: dict[str, Any] = found["$defs"]
    return schemas


def _operation(op: Operation) -> dict[str, Any]:
    made: dict[str, Any] = {
        "operationId": op.name,
        "summary": op.summary,
        "description": f"Needs a token with the scope {op.scope}.",
        "parameters": [*_path_parameters(op.path), *_query_parameters(op.query)],
        "responses": {str(op.status): _content(_ref(op.answer), "done")},
    }
    for status in op.statuses():
        made["responses"][str(status)] = _refused()
    made["responses"]["default"] = _refused()
    if op.taken is not None:
        made["parameters"].append(
            {
                "name": "Idempotency-Key",
                "in": "header",
                "schema": {"type": "string", "minLength": 1, "maxLength": 128, "pattern": "^[!-~]{1,128}$"},
                "description": "the same key with the same body acts once and gets the same answer",
            }
        )
        content: dict[str, Any] = {"application/json": {"schema": _ref(op.taken)}}
        if op.files:
            content["multipart/form-data"] = {"schema": _form(op)}
        made["requestBody"] = {"required": True, "content": content}
    return made


def _form(op: Operation) -> dict[str, Any]:
    """The form that is taken instead of JSON, with files as they are."""
    assert op.taken is not None
    properties: dict[str, Any] = {
        name: {"type": "string", **({"contentMediaType": "application/octet-stream"} if name in op.files else {})}
        for name in op.taken.model_fields
    }
    required = [name for name, field in op.taken.model_fields.items() if field.is_required()]
    return {"type": "object", "properties": properties, "required": required, "additionalProperties": False}


def _path_parameters(path: str) -> list[dict[str, Any]]:
    number = {"type": "integer", "minimum": 0, "maximum": 999_999_999}
    return [
        {"name": name, "in": "path", "required": True, "schema": number if kind else {"type": "string"}}
        for kind, name in _PART.findall(path)
    ]


def _query_parameters(model: type[BaseModel] | None) -> list[dict[str, Any]]:
    if model is None:
        return []
    found = model.model_json_schema()["properties"]
    return [{"name": name, "in": "query", "schema": schema} for name, schema in found.items()]


def _ref(model: type[BaseModel]) -> dict[str, str]:
    return {"$ref": f"#/components/schemas/{model.__name__}"}


def _content(schema: dict[str, Any], words: str, kind: str = "application/json") -> dict[str, Any]:
    return {"description": words, "content": {kind: {"schema": schema}}}


def _refused() -> dict[str, Any]:
    return _content(_ref(m.Problem), "refused", "application/problem+json")
