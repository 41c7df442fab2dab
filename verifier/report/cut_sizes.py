"""What to measure where nobody computed a part: the surfaces that changed blocks cut, by the end points that they command."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from verifier.compare import Effect, Item
from verifier.findings import ChangeView, Finding, coordinate
from verifier.report.here import sequence_here

MEASURED = frozenset(
    (
        "position-changed", "curve-changed", "sign-lost", "decimal-point-lost", "increment-word-exchanged",
        "thread-depth-changed", "thread-lead-changed", "thread-angle-changed",
    )
)  # fmt: skip
"""Rules about a size that a block commands."""
_MOST = 3
"""So many entries: more of them nobody measures because of one change, and the card names them all."""
_ARCS = ("arc_cw", "arc_ccw")


def commanded(change: ChangeView, findings: Iterable[Finding], index: int) -> tuple[str, ...]:
    """The surfaces of a sequence of the new program that its changed cuts command, the first few; none where no place of them is known."""
    told: dict[str, None] = {}
    for finding in findings:
        for number in finding.covers if finding.rule in MEASURED else ():
            effect = change.comparison.effects[number]
            if not effect.position and not change.facts.in_cycle(effect):
                told.update(dict.fromkeys(_surfaces(change, effect, index)))
    surfaces = tuple(told)
    if len(surfaces) <= _MOST:
        return surfaces
    left = len(surfaces) - _MOST + 1
    return (*surfaces[: _MOST - 1], f"and what {left} more changed blocks cut")


def _surfaces(change: ChangeView, effect: Effect, index: int) -> Iterator[str]:
    for difference in effect.differences:
        item = difference.new
        if item is None or not item.cuts or item.start.bx or item.start.bz or item.end.bx or item.end.bz:
            continue
        if sequence_here(change, change.new, change.new.main_block(item)) == index:
            yield _surface(change, effect.field, item)


def _surface(change: ChangeView, field: str, item: Item) -> str:
    """One cut in words: what its changed word makes, a diameter or a length, and where."""
    units, (start, end) = change.units, (item.start, item.end)
    line = f" (line {change.new.place(item.block).line})"
    x0, x1 = (coordinate("x", ("", place.x), units) for place in (start, end))
    z0, z1 = (coordinate("z", ("", place.z), units) for place in (start, end))
    if item.kind == "thread":
        return f"thread from Z {z0} to Z {z1}, cut at diameter {x1}{line}"
    if item.kind in _ARCS:
        return f"radius from diameter {x0}, Z {z0} to diameter {x1}, Z {z1}{line}"
    if start.x == end.x:
        return f"diameter {x1} from Z {z0} to Z {z1}{line}"
    if start.z != end.z:
        return f"taper from diameter {x0}, Z {z0} to diameter {x1}, Z {z1}{line}"
    return f"diameter {x1} at Z {z1}{line}" if field == "x" else f"face at Z {z1} from diameter {x0} to {x1}{line}"


__all__ = ["MEASURED", "commanded"]
