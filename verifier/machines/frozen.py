"""A mapping that never changes: hashable and picklable, so that frozen dataclasses holding one stay values."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import TypeVar

K = TypeVar("K")
V = TypeVar("V")


class FrozenMap(Mapping[K, V]):
    """An immutable mapping that keeps the order it was built in; equality and hash ignore that order."""

    __slots__ = ("_items",)

    def __init__(self, items: Mapping[K, V] | Iterable[tuple[K, V]] = ()) -> None:
        self._items: dict[K, V] = dict(items)

    def __getitem__(self, key: K) -> V:
        return self._items[key]

    def __iter__(self) -> Iterator[K]:
        return iter(self._items)

    def __len__(self) -> int:
        return len(self._items)

    def __hash__(self) -> int:
        return hash(frozenset(self._items.items()))

    def __repr__(self) -> str:
        return f"FrozenMap({self._items!r})"
