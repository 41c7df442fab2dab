"""Keys of items: how they are recognised as the same one, strict to loose. Computed in columns, from contents only."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from hashlib import blake2b

import numpy as np
from numpy.typing import NDArray

from verifier.compare.align_anchor import mix
from verifier.compare.align_rung import Rung
from verifier.compare.items import Items
from verifier.control import InForce

Column = NDArray[np.uint64]
_STEP = np.uint64(0x9E3779B97F4A7C15)


@dataclass(frozen=True, slots=True)
class Columns:
    """What the keys are made of, one 64-bit value per item: contents hashed, coordinates as they are."""

    kind: Column
    moves: Column
    bx: Column
    x: Column
    bz: Column
    z: Column
    state: Column
    value: Column
    step: Column

    def reading(self, *parts: Column) -> Column:
        """One key per item from some of the columns, in this order."""
        key = np.zeros(len(self.kind), np.uint64)
        for part in parts:
            key = mix((key + part) * _STEP)
        return key


def columns(items: Items) -> Columns:
    """The columns of all items of a trace."""
    found = items.items
    states: dict[int, int] = {}

    def state(value: InForce) -> int:
        # A trace holds few states, and its items share them: each is hashed once.
        number = states.get(id(value))
        if number is None:
            number = states[id(value)] = content_hash(repr(value))
        return number

    texts = _Texts()
    return Columns(
        kind=texts.column(i.kind for i in found),
        moves=np.array([i.is_move for i in found], np.uint64),
        bx=texts.column(i.end.bx for i in found),
        x=np.array([i.end.x for i in found], np.int64).astype(np.uint64),
        bz=texts.column(i.end.bz for i in found),
        z=np.array([i.end.z for i in found], np.int64).astype(np.uint64),
        state=np.array([state(i.state) for i in found], np.uint64),
        value=texts.column(i.value for i in found),
        step=texts.column(i.step for i in found),
    )


class _Texts:
    """Hashes each distinct text once."""

    def __init__(self) -> None:
        self._known: dict[str, int] = {}

    def column(self, texts: Iterable[str]) -> Column:
        """One hash per text."""
        known, found = self._known, list(texts)
        known.update((text, content_hash(text)) for text in {*found} - known.keys())
        return np.array([known[text] for text in found], np.uint64)


def content_hash(text: str) -> int:
    """A 64-bit hash of a text, the same in every process."""
    return int.from_bytes(blake2b(text.encode("utf-8", "surrogatepass"), digest_size=8).digest(), "little")


def _end(c: Columns) -> tuple[Column, ...]:
    return c.bx, c.x, c.bz, c.z


def _by_step(c: Columns) -> Column:
    """By kind and cycle step where the item is one of a cycle's, else by kind and end."""
    stepped = c.step != content_hash("")
    return np.where(stepped, c.reading(c.kind, c.step), c.reading(c.kind, *_end(c)))


READINGS: tuple[tuple[str, Callable[[Columns], Column], int], ...] = (
    ("everything", lambda c: c.reading(c.kind, *_end(c), c.state, c.value), 4),
    ("motion and end", lambda c: c.reading(c.kind, *_end(c), c.value), 0),
    (
        "end",
        lambda c: c.reading(c.moves, *_end(c), np.where(c.moves > 0, 0, c.kind), np.where(c.moves > 0, 0, c.value)),
        0,
    ),
    ("cycle step", _by_step, 0),
    ("one coordinate", lambda c: c.reading(c.kind, c.bz, c.z), 0),
    ("the other", lambda c: c.reading(c.kind, c.bx, c.x), 0),
    ("kind", lambda c: c.reading(c.kind), 0),
)
"""Name, key, and the shortest run of items that may be called a move at this rung (0: none)."""


def ladder(old: Items, new: Items) -> list[Rung]:
    """The rungs for aligning two traces' items, strictest first."""
    sides = columns(old), columns(new)
    return [Rung(reading(sides[0]), reading(sides[1]), name, run) for name, reading, run in READINGS]


def tool_sections(items: Items) -> tuple[NDArray[np.int64], Column]:
    """Where each tool call stands and a key for it: the first call of a tool belongs to the first of that tool.

    A call that only cancels the offset of the tool in force ends a section and begins none.
    """
    starts, keys, seen = [], [], dict[str, int]()
    before = ""
    for k, item in enumerate(items.items):
        if item.kind != "event:tool":
            continue
        tool, _, offset = item.value.partition(" offset ")
        if offset.partition(" ")[0] != "0" or tool != before:
            seen[item.value] = seen.get(item.value, 0) + 1
            starts.append(k)
            keys.append(content_hash(f"{item.value} {seen[item.value]}"))
        before = tool
    return np.array(starts, np.int64), np.array(keys, np.uint64)
