"""Stops in words."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.compare import Effect
from verifier.findings.phrases import items_of_effects

_NAMES = {"event:stop": "stop M00", "event:optional-stop": "optional stop M01", "event:alarm": "alarm by the program"}


def stop_words(effects: Iterable[Effect]) -> tuple[str, ...]:
    """The stops among some effects, each kind once with its number."""
    count: dict[str, int] = {}
    for item in items_of_effects(effects):
        count[item.kind] = count.get(item.kind, 0) + 1
    return tuple(f"{n} times {_NAMES[kind]}" if n > 1 else _NAMES[kind] for kind, n in count.items())
