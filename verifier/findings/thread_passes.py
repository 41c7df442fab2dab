"""The passes of a thread as moves, whichever way they are programmed: by a cycle, or block by block."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction
from itertools import pairwise

from verifier.compare import Item
from verifier.control import TICKS_PER_MM
from verifier.findings.paths import Path


def thread_passes(items: Iterable[Item]) -> Iterator[tuple[Item, ...]]:
    """Every thread as its passes in order: threading with one lead, up to another cut or tool. A pull-out belongs to its pass."""
    found: list[Item] = []
    before: Item | None = None
    for item in items:
        if item.kind == "thread":
            if found and item.state.feed != found[0].state.feed:
                yield tuple(found)
                found = []
            if before is None or before.kind != "thread":
                found.append(item)
        elif found and (item.cuts or item.kind == "event:tool"):
            yield tuple(found)
            found = []
        before = item if item.is_move else before
    if found:
        yield tuple(found)


def passes_with(path: Path, item: Item) -> tuple[Item, ...]:
    """The passes of the thread that a pass, or the rapid in front of one, belongs to; none where it belongs to none."""
    own = item if item.kind == "thread" else path.led_to(item, "z") or path.led_to(item, "x")
    if own is not None and own.kind != "thread" and path.cycle_of(own) is not None:
        own = next((other for other in path.items if other.kind == "thread" and other.first > own.first), None)
    if own is None or own.kind != "thread":
        return ()
    return next((found for found in thread_passes(path.items) if own in found), ())


def deepest_step(passes: tuple[Item, ...]) -> Fraction | None:
    """The greatest infeed between two passes on each other, as a radius in mm; None where there is none or a place is not known.

    A thread that is cut twice goes back to its first pass in between: that is no infeed.
    """
    if len(passes) < 2 or any(item.end.bx for item in passes):
        return None
    inward = passes[-1].end.x - passes[0].end.x
    steps = [b.end.x - a.end.x for a, b in pairwise(passes)]
    return Fraction(max(abs(step) for step in steps if step * inward >= 0), TICKS_PER_MM)
