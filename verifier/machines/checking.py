"""The check of a file's content against its tables: every mistake in one run, those of single keys and those between
keys.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, TypeVar, get_args, get_origin

from pydantic import BaseModel, ValidationError

from verifier.machines.edge import FORMS, Table
from verifier.machines.mistakes import NOTHING, Mistake, not_one_of, shown, unknown_key
from verifier.machines.reading import parse_toml, read_toml
from verifier.source import MachineError

M = TypeVar("M", bound=Table)

_EXPECTED = {
    "missing": "a value",
    "string_type": "text in quotes",
    "int_type": "a whole number",
    "bool_type": "true or false",
    "date_type": "a date such as 2026-03-02",
    "dict_type": "a table",
    "model_type": "a table",
    "model_attributes_type": "a table",
    "list_type": "a list",
    "tuple_type": "a list",
    "string_too_short": "text that is not empty",
}
_LIMITS = {
    "greater_than_equal": "a number of {ge} or more",
    "less_than_equal": "a number of {le} at most",
    "string_too_long": "text of {max_length} characters at most",
    "too_short": "a list of {min_length} or more",
    "too_long": "a list of {max_length} at most",
}


def read_table(path: str | Path, model: type[M]) -> M:
    """A TOML file as the table that a model describes; MachineError with every mistake in it."""
    return _table(read_toml(Path(path)), str(path), model)


def parse_table(data: bytes, label: str, model: type[M]) -> M:
    """The bytes of a TOML file as the table that a model describes; MachineError with every mistake in it."""
    return _table(parse_toml(data, label), label, model)


def _table(raw: dict[str, Any], label: str, model: type[M]) -> M:
    table, mistakes = checked(model, raw)
    if mistakes or table is None:
        raise MachineError([mistake.line(label) for mistake in mistakes])
    return table


def checked(model: type[M], data: Any) -> tuple[M | None, list[Mistake]]:
    """The data as a model, or None and every mistake in it."""
    try:
        table, found = model.model_validate(data), []
    except ValidationError as error:
        table, found = None, [_translated(model, item) for item in error.errors(include_url=False)]
    found += _contradictions(model, data, ())
    return (None if found else table), found


def _contradictions(annotation: Any, raw: Any, path: tuple[str | int, ...]) -> Iterator[Mistake]:
    """What the tables in `raw` say against themselves, found beside the model's own check so that neither hides the
    other.
    """
    if isinstance(annotation, type) and issubclass(annotation, Table):
        if not isinstance(raw, dict):
            return
        for found in annotation.contradictions(raw):
            yield Mistake((*path, *found.path), found.got, found.expected, found.near)
        for name, field in annotation.model_fields.items():
            key = field.alias or name
            if key in raw:
                yield from _contradictions(field.annotation, raw[key], (*path, key))
        return
    origin, parts = get_origin(annotation), get_args(annotation)
    if origin is dict and isinstance(raw, dict):
        for key, item in raw.items():
            yield from _contradictions(parts[-1], item, (*path, key))
    elif origin is list and isinstance(raw, list):
        for index, item in enumerate(raw):
            yield from _contradictions(parts[-1], item, (*path, index))
    elif origin not in (dict, list):
        for part in parts:
            yield from _contradictions(part, raw, path)


def _translated(model: type[BaseModel], error: Any) -> Mistake:
    kind, context = error["type"], error.get("ctx", {})
    path = tuple(part for part in error["loc"] if part != "[key]")
    if kind == "extra_forbidden":
        return unknown_key(path, _keys_at(model, path[:-1]))
    got = NOTHING if kind == "missing" else shown(error["input"])
    if kind == "literal_error":
        allowed = [word.strip().strip("'") for word in context["expected"].replace(" or ", ",").split(",")]
        return not_one_of(path, error["input"], allowed)
    if kind == "expected":
        return Mistake(path, got, context["what"])
    if kind == "string_pattern_mismatch":
        return Mistake(path, got, FORMS.get(context["pattern"], f"text of the form {context['pattern']}"))
    if kind in _LIMITS:
        return Mistake(path, got, _LIMITS[kind].format(**context))
    return Mistake(path, got, _EXPECTED.get(kind) or error["msg"][:1].lower() + error["msg"][1:])


def _keys_at(annotation: Any, path: Sequence[str | int]) -> list[str]:
    """The keys that the table at a path may have, walking through models, tables of tables, lists and
    optional parts.
    """
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        fields = {field.alias or name: field for name, field in annotation.model_fields.items()}
        if not path:
            return sorted(fields)
        return _keys_at(fields[str(path[0])].annotation, path[1:]) if path[0] in fields else []
    parts = get_args(annotation)
    if get_origin(annotation) in (dict, list):
        return _keys_at(parts[-1], path[1:])
    return next((keys for keys in (_keys_at(part, path) for part in parts) if keys), [])
