"""Half sections as lists of points: read from a file as written, and held to be simple polygons, exactly."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Annotated, Any

from pydantic import Field
from pydantic_core import PydanticCustomError

from verifier.machines.edge import Quantity, exact
from verifier.machines.mistakes import Mistake, shown

Point = Annotated[list[Quantity], Field(min_length=2, max_length=2)]
Outline = Annotated[list[Point], Field(min_length=3, max_length=5000)]
"""A half section in a file: [diameter, Z] points, closed by itself."""

Points = list[tuple[Fraction, Fraction]]

_MOST_FOR_CROSSINGS = 600
"""Pairs of edges are looked at one by one; longer outlines are left to the geometry."""


def outline_points(raw: Any) -> Points | None:
    """The points of an outline as written; None where one of them is no pair of numbers (that is a mistake of its own)."""
    if not isinstance(raw, list) or not all(isinstance(point, list) and len(point) == 2 for point in raw):
        return None
    try:
        return [(exact(point[0]), exact(point[1])) for point in raw]
    except PydanticCustomError:
        return None


def twice_area(points: Points) -> Fraction:
    """Twice the signed area of a closed outline."""
    pairs = zip(points, [*points[1:], *points[:1]], strict=True)
    return sum((x0 * z1 - x1 * z0 for (x0, z0), (x1, z1) in pairs), Fraction(0))


def first_crossing(points: Points) -> tuple[int, int] | None:
    """The first two edges (each by the number of its first point) that meet elsewhere than at a corner they share; None for none."""
    count = len(points)
    if count < 3 or count > _MOST_FOR_CROSSINGS:
        return None
    edges = [(points[k], points[(k + 1) % count]) for k in range(count)]
    for one in range(count):
        for other in range(one + 1, count):
            neighbours = other == one + 1 or (one == 0 and other == count - 1)
            if not neighbours and _meet(*edges[one], *edges[other]):
                return one, other
    return None


Pair = tuple[Fraction, Fraction]


def _meet(a: Pair, b: Pair, c: Pair, d: Pair) -> bool:
    sides = (_turn(a, b, c), _turn(a, b, d), _turn(c, d, a), _turn(c, d, b))
    if sides[0] * sides[1] < 0 and sides[2] * sides[3] < 0:
        return True
    touching = zip(sides, ((a, b, c), (a, b, d), (c, d, a), (c, d, b)), strict=True)
    return any(not side and _between(*three) for side, three in touching)


def _turn(a: Pair, b: Pair, c: Pair) -> int:
    value = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
    return (value > 0) - (value < 0)


def _between(a: Pair, b: Pair, c: Pair) -> bool:
    return min(a[0], b[0]) <= c[0] <= max(a[0], b[0]) and min(a[1], b[1]) <= c[1] <= max(a[1], b[1])


def bad_outline(raw: dict[str, Any]) -> Iterator[Mistake]:
    """The mistakes of a half section at the key `outline`: a point below the centre line, a crossing, no area."""
    points = outline_points(raw.get("outline"))
    if points is None:
        return
    for k, (diameter, _) in enumerate(points):
        if diameter < 0:
            yield Mistake(("outline", k), shown(raw["outline"][k][0]), "a diameter of 0 or more")
    yield from crossing(raw, "outline")


def crossing(raw: dict[str, Any], key: str) -> Iterator[Mistake]:
    """The mistake of an outline that crosses itself or has no area."""
    points = outline_points(raw.get(key))
    if points is None or len(points) < 3:
        return
    found = first_crossing(points)
    if found is not None:
        one, other = found
        yield Mistake((key, other), f"an edge that meets edge {one}", "an outline that does not cross itself")
    elif not twice_area(points):
        yield Mistake((key,), "points on one line", "an outline with an area")
