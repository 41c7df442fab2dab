"""The published JSON Schemas accept what the loaders accept and refuse what they refuse.

The check of a value against a schema is written out here for the keywords that the schemas use; another keyword fails the test.
"""

import json
import re
from copy import deepcopy
from datetime import date
from decimal import Decimal
from importlib import resources
from pathlib import Path
from typing import Any

import pytest

from verifier.machines import CHOICES, machine_schema, setup_schema
from verifier.machines.reading import parse_toml, read_toml

SHOP = Path(__file__).parents[2] / "fixtures" / "shop"
ANNOTATIONS = {"$schema", "$defs", "title", "description", "default", "format"}
TYPES = {
    "object": dict,
    "array": list,
    "string": str,
    "boolean": bool,
    "null": type(None),
    "integer": int,
    "number": (int, Decimal, float),
}


def as_json(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: as_json(item) for key, item in value.items()}
    if isinstance(value, list):
        return [as_json(item) for item in value]
    return value.isoformat() if isinstance(value, date) else value


def is_type(value: Any, name: str) -> bool:
    if isinstance(value, bool) and name in ("integer", "number"):
        return False
    return isinstance(value, TYPES[name])


def fits(value: Any, schema: dict[str, Any], root: dict[str, Any]) -> bool:
    return all(KEYWORDS[key](value, schema, root) for key in schema if key not in ANNOTATIONS)


def _object(value: Any, schema: dict[str, Any], root: dict[str, Any]) -> bool:
    if not isinstance(value, dict):
        return True
    known, patterns = schema.get("properties", {}), schema.get("patternProperties", {})
    others = schema.get("additionalProperties", True)
    for key, item in value.items():
        subs = [known[key]] if key in known else []
        subs += [sub for pattern, sub in patterns.items() if re.search(pattern, key)]
        if not subs and others is False:
            return False
        if not subs and isinstance(others, dict):
            subs = [others]
        if not all(fits(item, sub, root) for sub in subs):
            return False
    names = schema.get("propertyNames")
    return names is None or all(fits(key, names, root) for key in value)


def _if(value: Any, schema: dict[str, Any], root: dict[str, Any]) -> bool:
    return fits(value, schema["then" if fits(value, schema["if"], root) else "else"], root)


def _number(test: Any) -> Any:
    return lambda v, s, r: not is_type(v, "number") or test(v, s)


KEYWORDS: dict[str, Any] = {
    "type": lambda v, s, r: is_type(v, s["type"]),
    "enum": lambda v, s, r: v in s["enum"],
    "const": lambda v, s, r: v == s["const"],
    "anyOf": lambda v, s, r: any(fits(v, sub, r) for sub in s["anyOf"]),
    "$ref": lambda v, s, r: fits(v, r["$defs"][s["$ref"].removeprefix("#/$defs/")], r),
    "properties": _object,
    "patternProperties": _object,
    "additionalProperties": _object,
    "propertyNames": _object,
    "required": lambda v, s, r: not isinstance(v, dict) or all(key in v for key in s["required"]),
    "items": lambda v, s, r: not isinstance(v, list) or all(fits(item, s["items"], r) for item in v),
    "minItems": lambda v, s, r: not isinstance(v, list) or len(v) >= s["minItems"],
    "maxItems": lambda v, s, r: not isinstance(v, list) or len(v) <= s["maxItems"],
    "minLength": lambda v, s, r: not isinstance(v, str) or len(v) >= s["minLength"],
    "maxLength": lambda v, s, r: not isinstance(v, str) or len(v) <= s["maxLength"],
    "pattern": lambda v, s, r: not isinstance(v, str) or re.search(s["pattern"], v) is not None,
    "minimum": _number(lambda v, s: v >= s["minimum"]),
    "maximum": _number(lambda v, s: v <= s["maximum"]),
    "exclusiveMinimum": _number(lambda v, s: v > s["exclusiveMinimum"]),
    "if": _if,
    "then": lambda v, s, r: True,
    "else": lambda v, s, r: True,
}


def accepted(schema: dict[str, Any], data: Any) -> bool:
    return fits(as_json(data), schema, schema)


def generic() -> dict[str, Any]:
    return parse_toml(resources.files("verifier.machines").joinpath("generic-lathe.toml").read_bytes(), "generic")


PROFILES = sorted((SHOP / "machines").glob("*.toml"))
SETUPS = sorted((SHOP / "setups").glob("*.toml"))


def test_there_are_fixtures() -> None:
    assert len(PROFILES) >= 2 and len(SETUPS) >= 2


@pytest.mark.parametrize("path", PROFILES, ids=lambda p: p.stem)
def test_schema_accepts_every_profile_of_the_demo_shop(path: Path) -> None:
    assert accepted(machine_schema(), read_toml(path))


def test_schema_accepts_the_built_in_profile() -> None:
    assert accepted(machine_schema(), generic())


@pytest.mark.parametrize("path", SETUPS, ids=lambda p: p.stem)
def test_schema_accepts_every_setup_sheet_of_the_demo_shop(path: Path) -> None:
    assert accepted(setup_schema(), read_toml(path))


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("kind", "mill"),
        ("code_set", "D"),
        ("turet", "rear"),
        ("tool_change_seconds", -1),
        ("longest_block", 0),
        ("choices", {"rapid-path": "curved"}),
        ("choices", {"rapid": "straight"}),
        ("verified", {"rapid-path": {"by_role": "lead"}}),
        ("verified", {"no-such-choice": {"by_role": "lead", "on": date(2026, 1, 1)}}),
        ("spindle", {"max_rpm": "4000"}),
        ("axes", {"X": {"rapid": 0, "acceleration": 1}}),
        ("never_together", [{"spindle": []}]),
    ],
)
def test_schema_refuses_what_the_loader_refuses(key: str, value: Any) -> None:
    data = generic()
    data[key] = value
    assert not accepted(machine_schema(), data)


def test_a_profile_that_extends_may_leave_out_what_a_whole_one_may_not() -> None:
    part = {"name": "lathe-7", "extends": "generic-lathe", "axes": {"X": {"maximum": 0}}}
    assert accepted(machine_schema(), part)
    assert not accepted(machine_schema(), {key: value for key, value in part.items() if key != "extends"})
    assert not accepted(machine_schema(), part | {"axis": {}})


@pytest.mark.parametrize("key", ["kind", "axes", "increments", "spindle", "power_on", "reset_restores", "end_resets"])
def test_a_whole_profile_needs(key: str) -> None:
    data = deepcopy(generic())
    del data[key]
    assert not accepted(machine_schema(), data)


def test_every_choice_and_value_is_in_the_schema() -> None:
    properties = machine_schema()["else"]["properties"]["choices"]["properties"]
    assert {name: tuple(row["enum"]) for name, row in properties.items()} == {n: c.values for n, c in CHOICES.items()}


@pytest.mark.parametrize("schema", [machine_schema(), setup_schema()], ids=["machine", "setup"])
def test_schemas_are_json_and_every_reference_leads_somewhere(schema: dict[str, Any]) -> None:
    text = json.dumps(schema)
    for name in re.findall(r'"#/\$defs/([^"]+)"', text):
        assert name in schema["$defs"]
