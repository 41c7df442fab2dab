"""The published schema is fresh, is a schema, and holds exactly the reports: each validates, and no field too many or too few does."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from tests.properties.programs import machine, name_of, shop_pairs, shop_programs
from tests.report.test_json_form import as_json
from verifier.machines import load_setup
from verifier.report import examine, report_schema, review
from verifier.report.schema import FILE
from verifier.source import SourceRefused

ROOT = Path(__file__).parents[2]
PUBLISHED = ROOT / "verifier" / "report" / FILE
VALID = Draft202012Validator(report_schema())


def machine_of(path: Path) -> Any:
    return machine("dock-lathe" if "clamp-stud" in path.parts else "north-lathe")


def test_the_published_file_is_fresh_and_a_schema() -> None:
    assert json.loads(PUBLISHED.read_text("utf-8")) == report_schema(), (
        f"run: verifier compare --schema > verifier/report/{FILE}"
    )
    Draft202012Validator.check_schema(report_schema())


def test_every_object_of_the_schema_is_closed() -> None:
    def objects(node: Any) -> Iterator[dict[str, Any]]:
        if isinstance(node, dict):
            if node.get("type") == "object":
                yield node
            for part in node.values():
                yield from objects(part)
        elif isinstance(node, list):
            for part in node:
                yield from objects(part)

    for found in objects(report_schema()):
        if "properties" in found:
            assert found["additionalProperties"] is False and set(found["required"]) == set(found["properties"])


@pytest.mark.parametrize(("old", "new"), shop_pairs(), ids=name_of)
def test_reports_of_the_demo_shop_validate(old: Path, new: Path) -> None:
    on = machine_of(old)
    sheet = load_setup(ROOT / f"fixtures/shop/setups/{old.parent.name}.toml", on)
    for setup in (None, sheet):
        VALID.validate(as_json(review(old.read_bytes(), new.read_bytes(), machine=on, setup=setup)))


@pytest.mark.parametrize("path", shop_programs(), ids=lambda path: path.stem)
def test_checks_of_the_demo_shop_validate(path: Path) -> None:
    on = machine_of(path)
    sheet = load_setup(ROOT / f"fixtures/shop/setups/{path.parent.name}.toml", on)
    for setup in (None, sheet):
        VALID.validate(as_json(examine(path.read_bytes(), machine=on, setup=setup)))


@pytest.mark.parametrize("path", sorted((ROOT / "fixtures" / "damaged").glob("*.nc")), ids=lambda path: path.stem)
def test_checks_of_damaged_programs_validate_where_they_are_not_refused(path: Path) -> None:
    try:
        report = examine(path.read_bytes())
    except SourceRefused:
        pytest.skip("refused: there is no report")
    VALID.validate(as_json(report))


def test_a_report_on_two_machines_and_two_setup_sheets_validates() -> None:
    here, there = machine("north-lathe"), machine("dock-lathe")
    sheets = [
        load_setup(ROOT / f"fixtures/shop/setups/{name}.toml", here) for name in ("drive-shaft", "flanged-sleeve")
    ]
    data = (ROOT / "fixtures/shop/programs/drive-shaft/base.nc").read_bytes()
    VALID.validate(as_json(review(data, data, machine=here, old_machine=there, setup=sheets[0], old_setup=sheets[1])))


def _nodes(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[tuple[Any, ...], Any]]:
    yield path, value
    items = value.items() if isinstance(value, dict) else enumerate(value[:1]) if isinstance(value, list) else ()
    for key, part in items:
        yield from _nodes(part, (*path, key))


def _spoilt(form: Any, path: tuple[Any, ...], change: Any) -> Any:
    copy = json.loads(json.dumps(form))
    node = copy
    for key in path:
        node = node[key]
    change(node)
    return copy


def test_a_field_more_or_less_anywhere_is_not_valid() -> None:
    """Every object of a real report, spoilt in turn by taking each field away and by adding one."""
    old, new = (ROOT / "fixtures/shop/programs/drive-shaft" / name for name in ("base.nc", "decimal-point-lost.nc"))
    form = as_json(review(old.read_bytes(), new.read_bytes(), machine=machine_of(old)))
    VALID.validate(form)
    objects = [(path, node) for path, node in _nodes(form) if isinstance(node, dict) and path != ("rules", "revisions")]
    assert len(objects) > 12
    for path, node in objects:
        assert not VALID.is_valid(_spoilt(form, path, lambda n: n.update({"more": "x"}))), path
        for key in node:
            assert not VALID.is_valid(_spoilt(form, path, lambda n, key=key: n.pop(key))), (*path, key)
