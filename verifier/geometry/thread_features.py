"""Threads as their passes leave them in the finished part: root, crest, lead, how long they are, taper, starts."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import atan2, degrees

import shapely

from verifier.geometry.part import ThreadPass, TurnedPart

THREAD = "thread"
_REACH = 1000.0
_EVEN_TAPER = 1e-6


@dataclass(frozen=True, slots=True)
class Helix:
    """One thread: the diameters of its root and of the crest that stands beside it, both at the middle of its length, mm.

    `length` is how far along Z material stands at its root, None (as the crest) where it is cut in air; `end` is the Z at which its passes
    end, `taper` its angle to the axis in degrees. `lead_change` mm per turn.
    """

    where: str
    root: float
    crest: float | None
    lead: float
    lead_change: float
    length: float | None
    end: float
    taper: float
    starts: int
    z_from: float
    z_to: float
    moves: tuple[int, ...]


def helices(part: TurnedPart) -> tuple[Helix, ...]:
    """The threads of a part. How many passes one took makes no difference; passes of one lead at several angles are its starts."""
    groups: dict[tuple[object, ...], list[ThreadPass]] = {}
    for one in part.threads:
        # Two threads of one lead on one part lie apart along Z.
        groups.setdefault((one.inside, one.lead, one.lead_change, round(one.end[0], 3)), []).append(one)
    return tuple(_helix(passes, part.left) for passes in groups.values())


def _helix(passes: list[ThreadPass], left: shapely.Geometry) -> Helix:
    inside = passes[0].inside
    deepest = (max if inside else min)(passes, key=lambda one: one.end[1])
    (z0, r0), (z1, r1) = deepest.start, deepest.end
    taper = degrees(atan2(abs(r1 - r0), abs(z1 - z0))) if z1 != z0 else 0.0
    engaged = _engaged(deepest, left)
    middle = sum(engaged) / 2 if engaged else z1
    root = r0 + (r1 - r0) * ((middle - z0) / (z1 - z0)) if z1 != z0 else r1
    low, high = engaged if engaged else sorted((z0, z1))
    return Helix(
        "inside" if inside else "outside",
        2 * root,
        _crest(middle, root, left, inside=inside) if engaged else None,
        float(deepest.lead),
        float(deepest.lead_change or 0),
        high - low if engaged else None,
        z1,
        taper if taper > _EVEN_TAPER else 0.0,
        len({one.start_angle for one in passes}),
        low,
        high,
        tuple(one.move for one in passes),
    )


def _engaged(one: ThreadPass, left: shapely.Geometry) -> tuple[float, float] | None:
    """From where to where along Z the root of a pass runs in material: its longest stretch."""
    common = shapely.intersection(left, shapely.linestrings([one.start, one.end]))
    stretches = [shapely.bounds(line).tolist() for line in _lines(common)]
    found = max(((z1 - z0, z0, z1) for z0, _, z1, _ in stretches), default=None)
    return None if found is None or found[0] < 1e-3 else found[1:]


def _crest(z: float, root: float, left: shapely.Geometry, *, inside: bool) -> float | None:
    """The diameter of the surface that stands beside a root."""
    line = shapely.linestrings([(z, 0.0), (z, _REACH)])
    spans = [shapely.bounds(part).tolist() for part in _lines(shapely.intersection(left, line))]
    around = [(r0, r1) for _, r0, _, r1 in spans if r0 - 1e-6 <= root <= r1 + 1e-6]
    if not around:
        return None
    return 2 * float(min(r0 for r0, _ in around) if inside else max(r1 for _, r1 in around))


def _lines(found: shapely.Geometry) -> Iterable[shapely.Geometry]:
    return (part for part in shapely.get_parts(found) if part.geom_type == "LineString" and not part.is_empty)
