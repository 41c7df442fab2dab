"""What the tests of the API share: tokens, a caller, a program, and a checker of JSON schemas that knows nothing of the models."""

from __future__ import annotations

import base64
import re
from typing import Any

from service_shop import Site

from verifier import records
from verifier.records import SCOPES

API = "/api/v1"
BODY = b"%\nO1001\nN10 G21 G18 G40 G80 G99\nN20 G00 X100. Z50.\nN30 M30\n%\n"
OTHER = BODY.replace(b"X100.", b"X101.")
AT = API + "/programs/L1/O1001"


def b64(data: bytes) -> str:
    return base64.b64encode(data).decode()


def token(site: Site, login: str, *scopes: str, days: int = 30) -> str:
    """A new token of a person; every scope where none is named."""
    secret = f"secret-{site.ids()}-{login}"
    person = records.find_person(site.shop, login)
    records.make_token(site.shop, person.id, "test", secret, scopes or SCOPES, days)
    return secret


class Caller:
    """A program that calls the API with a token."""

    def __init__(self, site: Site, login: str, *scopes: str) -> None:
        self.client = site.app.test_client()
        self.headers = {"Authorization": f"Bearer {token(site, login, *scopes)}"}

    def get(self, path: str) -> Any:
        return self.client.get(path, headers=self.headers)

    def post(self, path: str, body: Any = None, key: str = "", **more: Any) -> Any:
        headers = {**self.headers, **({"Idempotency-Key": key} if key else {})}
        sent = more if more else {"json": body if body is not None else {}}
        return self.client.post(path, headers=headers, **sent)


def submission(data: bytes = BODY, **more: Any) -> dict[str, Any]:
    return {"program": b64(data), "reason": "first", **more}


_KINDS: dict[str, Any] = {
    "object": dict, "array": list, "string": str, "boolean": bool, "null": type(None), "integer": int, "number": (int, float),
}  # fmt: skip


def faults(value: Any, schema: dict[str, Any], root: dict[str, Any], at: str = "$") -> list[str]:
    """What a value has against a schema; a keyword that this does not know is a fault too, so that none goes unchecked."""
    if "$ref" in schema:
        return faults(value, root["components"]["schemas"][schema["$ref"].rsplit("/", 1)[1]], root, at)
    known = {"type", "properties", "required", "additionalProperties", "items", "prefixItems", "minItems", "maxItems",
             "anyOf", "enum", "const", "minimum", "maximum", "minLength", "maxLength", "pattern", "title", "description",
             "default", "contentEncoding", "contentMediaType"}  # fmt: skip
    found = [f"{at}: {word} is not checked" for word in schema if word not in known]
    if "anyOf" in schema and all(faults(value, one, root, at) for one in schema["anyOf"]):
        found.append(f"{at}: none of the kinds")
    kind = schema.get("type")
    if kind and (not isinstance(value, _KINDS[kind]) or (isinstance(value, bool) and kind != "boolean")):
        return [*found, f"{at}: {value!r:.60} is no {kind}"]
    if "enum" in schema and value not in schema["enum"]:
        found.append(f"{at}: not one of the words")
    if "const" in schema and value != schema["const"]:
        found.append(f"{at}: not the word")
    if isinstance(value, dict):
        found += _object(value, schema, root, at)
    if isinstance(value, list):
        first = schema.get("prefixItems", [])
        if not schema.get("minItems", 0) <= len(value) <= schema.get("maxItems", len(value)):
            found.append(f"{at}: {len(value)} items")
        for k, one in enumerate(value):
            found += faults(one, first[k] if k < len(first) else schema.get("items", {}), root, f"{at}[{k}]")
    if isinstance(value, str):
        fits = schema.get("minLength", 0) <= len(value) <= schema.get("maxLength", len(value))
        if not fits or ("pattern" in schema and not re.search(schema["pattern"], value)):
            found.append(f"{at}: the text does not fit")
    if isinstance(value, int) and not schema.get("minimum", value) <= value <= schema.get("maximum", value):
        found.append(f"{at}: out of bounds")
    return found


def _object(value: dict[str, Any], schema: dict[str, Any], root: dict[str, Any], at: str) -> list[str]:
    parts, found = schema.get("properties", {}), []
    found += [f"{at}: {name} is missing" for name in schema.get("required", []) if name not in value]
    for name, one in value.items():
        if name in parts:
            found += faults(one, parts[name], root, f"{at}.{name}")
        elif schema.get("additionalProperties") is False:
            found.append(f"{at}: {name} is not expected")
    return found


def answer_faults(answer: Any, method: str, path: str, root: dict[str, Any]) -> list[str]:
    """What an answer has against its operation in the document."""
    responses = root["paths"][path][method.lower()]["responses"]
    said = responses.get(str(answer.status_code))
    if said is None:
        return [f"{method} {path}: {answer.status_code} is not documented"]
    kind = answer.headers["Content-Type"].split(";")[0]
    if kind not in said["content"]:
        return [f"{method} {path}: {kind} is not documented"]
    value = answer.get_json(force=True)
    return faults(value, said["content"][kind]["schema"], root, f"{method} {path} {answer.status_code} $")
