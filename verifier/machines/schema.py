"""JSON Schemas of the files this package reads, made from the same models that check them."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

from pydantic import BaseModel

from verifier.machines.profile_file import ProfileTable
from verifier.machines.setup_file import SetupTable

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def machine_schema() -> dict[str, Any]:
    """The JSON Schema of a machine profile.

    A profile that extends another may leave out anything but its name; one that does not must be whole.
    """
    whole = file_schema(ProfileTable, "Machine profile")
    part = _nothing_required(whole)
    defs = whole.pop("$defs") | {f"{name}Part": table for name, table in part.pop("$defs").items()}
    for side in (whole, part):
        for key in ("$schema", "title"):
            side.pop(key)
    part["required"] = ["name", "extends"]
    extending = {"required": ["extends"]}
    return {
        "$schema": DIALECT,
        "title": "Machine profile",
        "$defs": defs,
        "if": extending,
        "then": part,
        "else": whole,
    }


def setup_schema() -> dict[str, Any]:
    """The JSON Schema of a setup sheet."""
    return file_schema(SetupTable, "Setup sheet")


def file_schema(model: type[BaseModel], title: str) -> dict[str, Any]:
    """The JSON Schema of a file whose tables a model describes, as its reader sees it (TOML numbers, tables and
    lists).
    """
    schema = model.model_json_schema(by_alias=True, mode="validation")
    return {"$schema": DIALECT, **schema, "title": title}


def _nothing_required(schema: dict[str, Any]) -> dict[str, Any]:
    """A copy in which every key may be left out, and whose references lead to the copies of the tables."""

    def loosened(node: Any) -> Any:
        if isinstance(node, dict):
            kept = {key: loosened(value) for key, value in node.items() if key != "required"}
            if isinstance(kept.get("$ref"), str):
                kept["$ref"] += "Part"
            return kept
        return [loosened(item) for item in node] if isinstance(node, list) else node

    return loosened(deepcopy(schema))  # type: ignore[no-any-return]
