"""Mistakes in a file as lines of one form: `file: key.path: got ..., expected ... (did you mean ...)`."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any, TypeVar, get_args, get_origin

from pydantic import BaseModel, ValidationError

M = TypeVar("M", bound=BaseModel)

_LONGEST_VALUE = 60
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


@dataclass(frozen=True, slots=True)
class Mistake:
    """One mistake: the key path it is at, what stands there, what was expected, and a near miss where there is one."""

    path: tuple[str | int, ...]
    got: str
    expected: str
    near: str = ""

    def line(self, file: str) -> str:
        """The mistake as one line of text."""
        key = ".".join(str(part) for part in self.path) or "(whole file)"
        hint = f" (did you mean {self.near}?)" if self.near else ""
        return f"{file}: {key}: got {self.got}, expected {self.expected}{hint}"


def shown(value: Any) -> str:
    """A value as it may stand in a TOML file, shortened where it is long."""
    if isinstance(value, bool):
        text = "true" if value else "false"
    elif isinstance(value, str):
        text = '"' + value.encode("unicode_escape").decode("ascii") + '"'
    elif isinstance(value, dict):
        text = "a table"
    elif isinstance(value, list):
        text = "[" + ", ".join(shown(item) for item in value[:8]) + (", ..." if len(value) > 8 else "") + "]"
    else:
        text = str(value)
    return text if len(text) <= _LONGEST_VALUE else text[:_LONGEST_VALUE] + "..."


def nearest(word: Any, allowed: Iterable[str]) -> str:
    """The allowed word nearest to a wrong one, or nothing where none is near."""
    if not isinstance(word, str):
        return ""
    found = get_close_matches(word.lower().replace("_", "-"), list(allowed), n=1, cutoff=0.6)
    found = found or get_close_matches(word, list(allowed), n=1, cutoff=0.6)
    return found[0] if found else ""


def not_one_of(path: tuple[str | int, ...], value: Any, allowed: Sequence[str]) -> Mistake:
    """The mistake of a value that is none of the allowed ones."""
    return Mistake(path, shown(value), "one of " + ", ".join(allowed), nearest(value, allowed))


def unknown_key(path: tuple[str | int, ...], allowed: Sequence[str]) -> Mistake:
    """The mistake of a key that nothing reads."""
    return Mistake(path, "an unknown key", "one of " + ", ".join(allowed), nearest(path[-1], allowed))


def checked(model: type[M], data: Any) -> tuple[M | None, list[Mistake]]:
    """The data as a model, or None and every mistake in it."""
    try:
        return model.model_validate(data), []
    except ValidationError as error:
        return None, [_translated(model, item) for item in error.errors(include_url=False)]


def _translated(model: type[BaseModel], error: Any) -> Mistake:
    kind, context = error["type"], error.get("ctx", {})
    path = tuple(part for part in error["loc"] if part != "[key]")
    if kind == "extra_forbidden":
        return unknown_key(path, _keys_at(model, path[:-1]))
    got = "nothing" if kind == "missing" else shown(error["input"])
    if kind == "literal_error":
        allowed = [word.strip().strip("'") for word in context["expected"].replace(" or ", ",").split(",")]
        return not_one_of(path, error["input"], allowed)
    if kind == "expected":
        return Mistake(path, got, context["what"])
    if kind == "string_pattern_mismatch":
        return Mistake(path, got, f"text of the form {context['pattern']}")
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
