"""Where two traces part: items paired, and every field in which a pair is unequal."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import hypot, pi

import numpy as np
from numpy.typing import NDArray

from verifier.compare.align import Alignment, align
from verifier.compare.item_keys import ladder, tool_sections
from verifier.compare.items import Item, Items, Place
from verifier.compare.refine import chain, pieces
from verifier.control import FIELDS

STATE_FIELDS = FIELDS


@dataclass(frozen=True, slots=True)
class Difference:
    """One field in which behaviour differs.

    `field`: a field of `InForce`, or "x", "z" (end point), "arc" (the curve), "kind" (rapid, feed ...), "remark" (words not executed),
    "event" (its value), "order" (a stretch made at another time), "added", "removed" (an item without partner), "below-resolution".
    `before`, `after` are the values as they stand in the items (None where the item or value is missing).
    """

    field: str
    old: Item | None
    new: Item | None
    before: object
    after: object
    certain: bool = True


@dataclass(frozen=True, slots=True)
class Matched:
    """The outcome: all differences in the order of the new trace, and the places of stops that differ although the path does not."""

    differences: tuple[Difference, ...]
    stops_differ: tuple[tuple[Item | None, Item | None], ...]
    pairs: tuple[tuple[int, int], ...] = field(default=(), repr=False)


def match(old: Items, new: Items, tolerance: int) -> Matched:
    """Pair the items of two traces and compare each pair; `tolerance` in ticks of a length (diameter for X)."""
    old_sections, new_sections = tool_sections(old), tool_sections(new)
    found = align(
        ladder(old, new),
        old_sections[0],
        new_sections[0],
        section_keys_old=old_sections[1],
        section_keys_new=new_sections[1],
    )
    differences: list[Difference] = []
    old_at, pairs = 0, []
    joined = _Joined(old.items, new.items, found)
    for new_at, partner in enumerate(found.new_to_old.tolist()):
        item = new.items[new_at]
        if partner < 0 and new_at in joined.new:
            continue
        if partner < 0:
            differences.append(Difference("added", None, item, None, item.value, item.certain))
            continue
        if found.moved[partner]:
            before = old.items[partner]
            differences.append(Difference("order", before, item, None, None))
        else:
            differences += _lone(old.items, found.old_to_new, old_at, partner, joined.old)
            old_at = partner + 1
        pairs.append((partner, new_at))
        for before, after in joined.pieces.get(partner, ((old.items[partner], item),)):
            differences += compare_items(before, after, tolerance)
    differences += _lone(old.items, found.old_to_new, old_at, len(old.items), joined.old)
    return Matched(tuple(differences), _stops(old, new, dict(pairs)), tuple(pairs))


def _lone(
    items: tuple[Item, ...], partner: NDArray[np.int64], start: int, end: int, joined: set[int]
) -> list[Difference]:
    return [
        Difference("removed", items[k], None, items[k].value, None, items[k].certain)
        for k in range(start, end)
        if partner[k] < 0 and k not in joined
    ]


class _Joined:
    """Lines that the two sides make in other pieces: the pairs of pieces by the old item that has a partner, and the items in them."""

    def __init__(self, old: tuple[Item, ...], new: tuple[Item, ...], found: Alignment) -> None:
        self.pieces: dict[int, tuple[tuple[Item, Item], ...]] = {}
        self.old: set[int] = set()
        self.new: set[int] = set()
        to_new, to_old = found.old_to_new, found.new_to_old
        pairs = np.flatnonzero((to_new >= 0) & ~found.moved)
        # Without a lone item beside it on either side a pair is cut alike.
        pairs = pairs[_beside(to_new < 0)[pairs] | _beside(to_old < 0)[to_new[pairs]]]
        for k in pairs.tolist():
            before = chain(old, k, lambda at: to_new[at] < 0 and at not in self.old)
            after = chain(new, int(to_new[k]), lambda at: to_old[at] < 0 and at not in self.new)
            cut = pieces(old[slice(*before)], new[slice(*after)])
            if cut:
                self.pieces[k] = cut
                self.old |= set(range(*before))
                self.new |= set(range(*after))


def _beside(these: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """The items that have one of these right in front of them or behind them."""
    padded = np.concatenate(([False], these, [False]))
    return np.asarray(padded[:-2] | padded[2:], np.bool_)


def compare_items(old: Item, new: Item, tolerance: int) -> list[Difference]:
    """All fields in which a pair of items differs."""
    if _identical(old, new):
        return []
    found: list[Difference] = []

    def differs(name: str, before: object, after: object, *, certain: bool = True) -> None:
        found.append(Difference(name, old, new, before, after, certain))

    if old.kind != new.kind:
        differs("kind", old.kind, new.kind)
    if old.value != new.value:
        name = "remark" if old.is_move else "event"
        differs(name, old.value, new.value, certain=old.certain and new.certain and not old.is_move)
    passive = _passive(old, new)
    for name, before, after in zip(STATE_FIELDS, old.state, new.state, strict=True):
        if before != after and name not in passive:
            differs(name, before, after, certain=not (is_symbol(before) and is_symbol(after)))
    if old.is_move and new.is_move:
        found += _places(old, new, tolerance)
    return found


def _identical(old: Item, new: Item) -> bool:
    """Whether a pair is equal in all that is compared (an arc that starts elsewhere is looked at more closely)."""
    return (
        old.kind == new.kind
        and old.end == new.end
        and old.value == new.value
        and old.centre == new.centre
        and (old.centre is None or old.start == new.start)
        and old.state == new.state
    )


def _passive(old: Item, new: Item) -> tuple[str, ...]:
    """Fields that differ only because another one does: a rapid has no feed, and a spindle that stands has no speed."""
    feeds = ("feed", "feed_mode") if "rapid" in (old.kind, new.kind) else ()
    stands = old.state.sense != new.state.sense and "stopped" in (old.state.sense, new.state.sense)
    return (*feeds, "speed_mode", "speed", "clamp") if stands else feeds


def is_symbol(value: object) -> bool:
    """Whether a value is one that only the machine knows (a speed held from constant surface speed is known to be one)."""
    return isinstance(value, str) and ("#" in value or "[" in value)


def _places(old: Item, new: Item, tolerance: int) -> list[Difference]:
    found = []
    for axis, size in (("x", 2), ("z", 1)):
        before, after = _axis(old.end, axis), _axis(new.end, axis)
        if before == after:
            continue
        near = before[0] == after[0] and abs(before[1] - after[1]) * size <= tolerance
        # Two places that only the machine knows may turn out to be one; a known one and an unknown one are a difference.
        certain = not (before[0] and after[0] and before[0] != after[0])
        found.append(Difference("below-resolution" if near else axis, old, new, before, after, certain))
    if (
        old.kind == new.kind
        and old.centre is not None
        and new.centre is not None
        and _curves_differ(old, new, tolerance)
    ):
        found.append(Difference("arc", old, new, old.centre, new.centre))
    return found


def _axis(place: Place, axis: str) -> tuple[str, int]:
    return (place.bx, place.x) if axis == "x" else (place.bz, place.z)


def _curves_differ(old: Item, new: Item, tolerance: int) -> bool:
    """Whether two arcs that end alike are other curves. Where they start elsewhere, that was told at the move before them."""
    assert old.centre is not None and new.centre is not None
    starts_alike = all(
        _axis(old.start, axis)[0] == _axis(new.start, axis)[0]
        and abs(_axis(old.start, axis)[1] - _axis(new.start, axis)[1]) * size <= tolerance
        for axis, size in (("x", 2), ("z", 1))
    )
    radius_old = hypot(old.start.x - old.centre[0], old.start.z - old.centre[1])
    radius_new = hypot(new.start.x - new.centre[0], new.start.z - new.centre[1])
    if not starts_alike:
        relative = max(
            abs((old.centre[0] - old.start.x) - (new.centre[0] - new.start.x)),
            abs((old.centre[1] - old.start.z) - (new.centre[1] - new.start.z)),
        )
        return relative > tolerance and abs(radius_old - radius_new) > tolerance
    return _deviation(old, new.centre, radius_new) > tolerance / 2


def _deviation(arc: Item, centre: tuple[int, int], radius: float) -> float:
    """The greatest distance of an arc from another circle, from 33 points along it (it varies like a sine: error below 0.5 %)."""
    assert arc.centre is not None
    cx, cz = arc.centre
    begin = np.arctan2(arc.start.x - cx, arc.start.z - cz)
    end = np.arctan2(arc.end.x - cx, arc.end.z - cz)
    turn = (end - begin) % (2 * pi) or 2 * pi
    if arc.kind == "arc_cw":
        turn -= 2 * pi
    angles = begin + turn * np.linspace(0, 1, 33)
    own = hypot(arc.start.x - cx, arc.start.z - cz)
    x, z = cx + own * np.sin(angles), cz + own * np.cos(angles)
    return float(np.max(np.abs(np.hypot(x - centre[0], z - centre[1]) - radius)))


def _stops(old: Items, new: Items, partner: dict[int, int]) -> tuple[tuple[Item | None, Item | None], ...]:
    """Items whose path is the same but which are interrupted at other places when run block by block."""
    by_old: dict[int, list[Place]] = {}
    for number, place in old.stops:
        by_old.setdefault(partner.get(number, -1 - number), []).append(place)
    by_new: dict[int, list[Place]] = {}
    for number, place in new.stops:
        by_new.setdefault(number, []).append(place)
    back = {b: a for a, b in partner.items()}
    found: list[tuple[Item | None, Item | None]] = []
    for number in sorted(set(by_old) | set(by_new)):
        if number < 0 or by_old.get(number, []) == by_new.get(number, []):
            continue
        before = back.get(number)
        found.append(
            (
                old.items[before] if before is not None else None,
                new.items[number] if number < len(new.items) else None,
            )
        )
    return tuple(found)
