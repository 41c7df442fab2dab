"""One straight line in pieces on one side and in other pieces on the other: compared piece by piece.

Moves on one line in one state are one item, so an edit that makes two states equal joins two items: the joined one is paired with one of
the two, the other has no partner, and what changed along it would not be told. Here the line is cut wherever either side cuts it; a cut that
became part of the rapid behind it is one, too.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from verifier.compare.items import Item, Place

_STRAIGHT = ("feed", "rapid")
_COMPENSATED = ("G41", "G42")

Range = tuple[int, int]


def chain(items: Sequence[Item], at: int, lone: Callable[[int], bool]) -> Range:
    """The items around `at` that go on along its line without a partner of their own: first, and the one behind the last."""
    first, behind = at, at + 1
    if not _straight(items[at]):
        return first, behind
    while first > 0 and lone(first - 1) and _goes_on(items[first - 1], items[first]):
        first -= 1
    while behind < len(items) and lone(behind) and _goes_on(items[behind - 1], items[behind]):
        behind += 1
    return first, behind


def pieces(old: Sequence[Item], new: Sequence[Item]) -> tuple[tuple[Item, Item], ...]:
    """Two chains cut at each other's points, as pairs; none where they are not one way along one line, or cut alike already."""
    if len(old) == len(new) == 1 or not all(map(_straight, (*old, *new))):
        return ()
    if old[0].start != new[0].start or old[-1].end != new[-1].end:
        return ()
    start, end = old[0].start, old[-1].end
    points = {_along(start, end, item.end): item.end for item in (*old, *new)}
    places = [points[way] for way in sorted(points)]
    return tuple(zip(_cut(old, start, end, places), _cut(new, start, end, places), strict=True))


def _cut(items: Sequence[Item], start: Place, end: Place, places: Sequence[Place]) -> list[Item]:
    """The chain in pieces that end at these places, which lie in order along it."""
    found, here, k = [], start, 0
    for place in places:
        found.append(replace(items[k], start=here, end=place))
        here = place
        if _along(start, end, place) >= _along(start, end, items[k].end):
            k += 1
    return found


def _along(start: Place, end: Place, place: Place) -> int:
    """How far a place lies along a line, in its own measure (exact)."""
    return (place.x - start.x) * (end.x - start.x) + (place.z - start.z) * (end.z - start.z)


def _straight(item: Item) -> bool:
    known = item.start.bx == item.end.bx and item.start.bz == item.end.bz
    return item.kind in _STRAIGHT and known and not item.value and item.state.compensation not in _COMPENSATED


def _goes_on(one: Item, other: Item) -> bool:
    """Whether an item goes on along the line of the one before it, the same way."""
    if not (_straight(one) and _straight(other)) or one.end != other.start:
        return False
    ax, az = one.end.x - one.start.x, one.end.z - one.start.z
    bx, bz = other.end.x - other.start.x, other.end.z - other.start.z
    return ax * bz == az * bx and ax * bx + az * bz > 0
