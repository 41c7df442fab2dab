"""Reads what a program sent to the API: strict JSON or a form with files, checked against the operation's model."""

from __future__ import annotations

import base64
import binascii
import json
from typing import Any, NoReturn, TypeVar

from flask import abort, request
from pydantic import BaseModel, ValidationError

from verifier.service.context import service
from verifier.service.errors import told
from verifier.service.openapi import Operation
from verifier.service.problems import Refusal
from verifier.service.uploads import optional_upload
from verifier.source import ActRefused

M = TypeVar("M", bound=BaseModel)


def stop(status: int, code: str, message: str, hint: str = "", details: tuple[dict[str, Any], ...] = ()) -> NoReturn:
    """End the request with a refusal."""
    abort(told(Refusal(status, code, message, hint, details)))


def query(model: type[M]) -> M:
    """The query of this request; nothing unknown and nothing twice."""
    twice = [name for name, values in request.args.lists() if len(values) > 1]
    if twice:
        stop(422, "bad_form", "a parameter is given twice")
    return _checked(model, dict(request.args.items()))


def taken(op: Operation) -> BaseModel:
    """The body of this request."""
    assert op.taken is not None
    if request.mimetype == "application/json":
        return _checked(op.taken, _json(request.get_data()))
    if op.files and request.mimetype == "multipart/form-data":
        return _checked(op.taken, _form(op))
    kinds = "application/json" + (" or multipart/form-data" if op.files else "")
    return stop(415, "bad_content", f"send {kinds}")


def raw(text: str) -> bytes:
    """Bytes from base64, within the limit for uploads."""
    try:
        data = base64.b64decode(text, validate=True)
    except (binascii.Error, ValueError):
        raise ActRefused("bad_form", "program and setup are bytes as base64") from None
    most = service().config.upload_limit
    if len(data) > most:
        raise ActRefused("too_large", f"the file is larger than {most} bytes")
    if not data:
        raise ActRefused("empty", "the file is empty")
    return data


def _checked(model: type[M], value: object) -> M:
    try:
        return model.model_validate(value)
    except ValidationError as error:
        found = error.errors(include_url=False, include_context=False, include_input=False)
        details = tuple(
            {"code": one["type"], "where": ".".join(str(part) for part in one["loc"])[:100], "message": one["msg"]}
            for one in found[:20]
        )
    return stop(422, "bad_form", "the request is not as this operation needs it", "", details)


def _form(op: Operation) -> dict[str, Any]:
    given: dict[str, Any] = {}
    for name, values in request.form.lists():
        if len(values) > 1 or name in op.files:
            stop(422, "bad_form", "a field is given twice, or as text where a file is expected")
        given[name] = values[0]
    for name in request.files:
        if name not in op.files or len(request.files.getlist(name)) > 1:
            stop(422, "bad_form", "a file is given that is not expected")
    for name in op.files:
        found = optional_upload(name)
        if found is not None:
            given[name] = base64.b64encode(found[1]).decode("ascii")
    return given


class _Twice(ValueError):
    pass


def _pairs(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise _Twice
    return found


def _constant(_: str) -> NoReturn:
    raise ValueError


def _json(data: bytes) -> object:
    """JSON as RFC 8259 has it: UTF-8, no name twice, no NaN; nothing that is nested without end."""
    try:
        return json.loads(data.decode("utf-8"), object_pairs_hook=_pairs, parse_constant=_constant)
    except _Twice:
        return stop(400, "bad_json", "a name stands twice in one object")
    except (ValueError, RecursionError):
        return stop(400, "bad_json", "this is not JSON that can be read")
