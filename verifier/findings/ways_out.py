"""How a tool leaves its cut, and where it stands when the next one is called: on both sides of a change."""

from __future__ import annotations

from dataclasses import dataclass

from verifier.compare import Effect, Item
from verifier.findings.facts import Facts
from verifier.findings.paths import Path

_BOTH = frozenset(("X", "Z"))


@dataclass(frozen=True, slots=True)
class WayOut:
    """One side's way out of a cut: the cut, and the rapids behind it up to the one with which both axes have moved."""

    cut: Item
    legs: tuple[Item, ...]

    @property
    def first(self) -> frozenset[str]:
        """The axes that move first."""
        return axes(self.legs[0])

    @property
    def straight_back(self) -> bool:
        """Whether the first rapid goes back the way the cut came, along one axis: out of a groove, out of a hole."""
        return len(self.first) == 1 and self.first == axes(self.cut) and _back(self.cut, self.legs[0])


def axes(item: Item) -> frozenset[str]:
    """The axes along which a stretch moves."""
    start, end = item.start, item.end
    moved = (("X", (start.bx, start.x) != (end.bx, end.x)), ("Z", (start.bz, start.z) != (end.bz, end.z)))
    return frozenset(name for name, moves in moved if moves)


def _back(cut: Item, leg: Item) -> bool:
    if cut.centre is not None or any((leg.end.bx, leg.end.bz, cut.start.bx, cut.start.bz)):
        return leg.end.bx != "" or leg.end.bz != ""
    return (cut.end.x - cut.start.x) * (leg.end.x - leg.start.x) <= 0 and (cut.end.z - cut.start.z) * (
        leg.end.z - leg.start.z
    ) <= 0


def ways_out(facts: Facts, effect: Effect) -> tuple[WayOut, WayOut] | None:
    """Both ways out that an effect lies in, where X and Z move in another order on one of them than on the other; None elsewhere."""
    first = effect.first
    paths = facts.paths(effect.position)
    found = [_way(path, item) for path, item in zip(paths, (first.old, first.new), strict=True)]
    if found[0] is None and found[1] is None:
        return None
    for here, there in ((0, 1), (1, 0)):
        own, item = found[here], (first.old, first.new)[there]
        if found[there] is None and own is not None and item is None:
            found[there] = _partner(facts, paths[there], own.cut, here)
    old, new = found
    if old is None or new is None or old.first == new.first:
        return None
    made = [call.code if (call := path.cycle_of(way.cut)) else "" for path, way in zip(paths, (old, new), strict=True)]
    return (old, new) if made[0] == made[1] else None  # a cycle that is executed on one side only is another matter


def _way(path: Path, item: Item | None) -> WayOut | None:
    """The way out that a rapid is part of."""
    if item is None or item.kind != "rapid":
        return None
    cut = path.last_cut(item)
    way = _of_cut(path, cut) if cut is not None else None
    return way if way is not None and item in way.legs else None


def _of_cut(path: Path, cut: Item) -> WayOut | None:
    legs: list[Item] = []
    moved: frozenset[str] = frozenset()
    for leg in path.way_out(cut):
        legs.append(leg)
        moved |= axes(leg)
        if moved == _BOTH:
            return WayOut(cut, tuple(legs))
    return None


def _partner(facts: Facts, path: Path, cut: Item, side: int) -> WayOut | None:
    """The way out of the same cut on the other side."""
    alignment = facts.comparison.edits.alignment
    partner = int((alignment.old_to_new, alignment.new_to_old)[side][cut.blocks[-1]])
    other = path.last_cut_at.get(partner)
    return _of_cut(path, other) if other is not None else None


def calls(facts: Facts, effect: Effect) -> tuple[Item, Item] | None:
    """The call of another tool that an effect's move is made for, on both sides: nothing moves between the two."""
    first = effect.first
    paths = facts.paths(effect.position)
    found = [_called_from(path, item) for path, item in zip(paths, (first.old, first.new), strict=True)]
    alignment = facts.comparison.edits.alignment
    partner = (alignment.new_to_old, alignment.old_to_new)
    for here, there in ((0, 1), (1, 0)):
        own, item = found[here], (first.old, first.new)[there]
        if own is not None and item is None:
            found[there] = paths[there].call_at.get(int(partner[there][own.block]))
    old, new = found
    return None if old is None or new is None else (old, new)


def _called_from(path: Path, item: Item | None) -> Item | None:
    call = path.next_call(item) if item is not None and item.kind == "rapid" else None
    if item is None or call is None or call.value.split()[0] == f"T{item.state.tool}":
        return None
    following = path.next_move(item)
    return call if following is None or following.first >= _moves_before(path, call) else None


def _moves_before(path: Path, call: Item) -> int:
    return path.trace.events[call.first].at
