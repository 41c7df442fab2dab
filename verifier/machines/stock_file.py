"""The raw piece in a setup sheet file: by measures, by its half section, or as an earlier operation leaves it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any, Literal

from pydantic import Field

from verifier.machines.edge import Positive, Quantity, Table, Text, number
from verifier.machines.mistakes import NOTHING, Mistake, shown
from verifier.machines.outlines import Outline, bad_outline

Digest = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]

_MEASURES = ("diameter", "length", "face_z", "inner")
_KEYS = {
    "bar": ("diameter", "length", "face_z"),
    "tube": ("diameter", "length", "face_z", "inner"),
    "contour": ("outline", "came_from"),
    "earlier-operation": ("file", "turned_round", "face_z"),
}
"""What may stand beside each kind of stock."""
_NEEDED = {
    "bar": ("diameter", "length", "face_z"),
    "tube": ("diameter", "length", "face_z"),
    "contour": ("outline",),
    "earlier-operation": ("file",),
}


class CameFromTable(Table):
    """What a contour was worked out from: files beside it, and the SHA-256 that each had then."""

    program: Text
    program_sha256: Digest
    setup: Text
    setup_digest: Digest
    machine: Text
    machine_digest: Digest
    machine_file: Text | None = None
    called: list[Text] = Field(default_factory=list)
    uncertain: list[Text] = Field(default_factory=list)
    doubts: list[Text] = Field(default_factory=list)


class StockTable(Table):
    """The raw piece, in the file's units."""

    kind: Literal["bar", "tube", "contour", "earlier-operation"]
    diameter: Positive | None = None
    inner: Positive | None = None
    length: Positive | None = None
    face_z: Quantity | None = None
    outline: Outline | None = None
    came_from: CameFromTable | None = None
    file: Text | None = None
    turned_round: bool = False

    @classmethod
    def contradictions(cls, raw: dict[str, Any]) -> Iterator[Mistake]:
        """Keys that a stock of this kind does not have, keys that it needs, a bore as large as the piece."""
        yield from _keys(raw)
        inner, outer = number(raw, "inner"), number(raw, "diameter")
        if raw.get("kind") == "tube" and "inner" not in raw:
            yield Mistake(("inner",), NOTHING, "the inner diameter of the tube")
        elif raw.get("kind") == "bar" and "inner" in raw:
            yield Mistake(("inner",), shown(raw["inner"]), 'nothing for a bar (kind "tube" has an inner diameter)')
        elif inner is not None and outer is not None and inner >= outer:
            yield Mistake(("inner",), shown(raw["inner"]), f"less than the diameter, {shown(raw['diameter'])}")
        if raw.get("turned_round") is True and "face_z" not in raw and raw.get("kind") == "earlier-operation":
            yield Mistake(("face_z",), NOTHING, "Z of the front face after the piece is turned round")
        yield from bad_outline(raw)


def _keys(raw: dict[str, Any]) -> Iterator[Mistake]:
    given = raw.get("kind")
    kind = given if isinstance(given, str) else ""
    for key in _NEEDED.get(kind, _NEEDED["bar"]):
        if key not in raw:
            yield Mistake((key,), NOTHING, _WANTED.get(key, "a value"))
    if kind not in _KEYS:
        return
    for key in ("outline", *_MEASURES, "came_from", "file", "turned_round"):
        if key in raw and key not in _KEYS[kind] and not (kind == "bar" and key == "inner"):
            yield Mistake((key,), shown(raw[key]), _nothing(kind, key))


_WANTED = {
    "file": "a file beside this sheet that says how the piece was left, as `verifier check --stock-out` writes it",
    "outline": "the half section of the piece, a list of [diameter, Z] points",
}


def _nothing(kind: str, key: str) -> str:
    if key in ("file", "turned_round"):
        return f'nothing for a {kind} (kind "earlier-operation" has it)'
    if key in ("outline", "came_from"):
        return f'nothing for kind "{kind}" (kind "contour" has it)'
    return "nothing beside an outline, which says it" if kind == "contour" else "nothing beside a file, which says it"
