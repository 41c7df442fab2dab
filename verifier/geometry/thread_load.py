"""The swarf section of every pass of a thread: what its profile takes more than the pass before it in the same groove."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import radians, tan

import shapely

from verifier.geometry.part import ThreadPass
from verifier.geometry.thread_groove import edge_of_profile, groove_area
from verifier.machines import Tool

_NOTHING = 1e-6
_LEVEL = 1e-6
Halves = tuple[float, float]
"""A value of the first and of the second half of a pass."""


@dataclass(frozen=True, slots=True)
class Bite:
    """How deep a pass stands below the crest and by how much deeper than before (mm), what it takes (mm2), the length of the edge that takes
    it (mm), and the radius of the middle of the swarf.
    """

    depth: float
    deeper: float
    section: float
    width: float
    radius: float


@dataclass(frozen=True, slots=True)
class ThreadCut:
    """One pass: the move's number, and what it takes where its first and its second half take most.

    On a straight thread both are the same; along a taper that the surface does not have they are not. The other values are those of the
    half that takes more.
    """

    move: int
    start: Bite
    end: Bite

    @property
    def _most(self) -> Bite:
        return max(self.start, self.end, key=lambda bite: bite.section)

    @property
    def depth(self) -> float:
        """Below the crest, mm."""
        return self._most.depth

    @property
    def deeper(self) -> float:
        """Deeper than the pass before it in the same groove, mm."""
        return self._most.deeper

    @property
    def section(self) -> float:
        """Of the swarf, mm2."""
        return self._most.section

    @property
    def width(self) -> float:
        """Of the edge that cuts, mm."""
        return self._most.width

    @property
    def radius(self) -> float:
        """Of the middle of the swarf, mm."""
        return self._most.radius


@dataclass(frozen=True, slots=True)
class _Under:
    """How a pass lies below its crest: its greatest depth in each half and the pass's own radius there, and the slope of the crest."""

    depth: Halves
    radius: Halves
    slope: float


@dataclass(frozen=True, slots=True)
class _Groove:
    """A pass, how deep it lies, and the Z at which the passes that it goes on from began: that is where the spindle's marker was."""

    cut: ThreadPass
    origin: float
    depth: Halves


def thread_cuts(
    passes: Sequence[ThreadPass], tools: Mapping[int, Tool], left: shapely.Geometry
) -> tuple[tuple[ThreadCut, ...], tuple[tuple[int, str], ...]]:
    """The passes with their sections, and (move, reason) of those that have none. `tools` gives the tool by the move's number."""
    cuts: list[ThreadCut] = []
    gaps: list[tuple[int, str]] = []
    grooves: list[_Groove] = []
    before_it: tuple[ThreadPass, float] | None = None
    crests: dict[tuple[float, ...], float | None] = {}
    for one in passes:
        origin = _origin(one, before_it)
        before_it = one, origin
        tool = tools[one.move]
        assert tool.profile_angle is not None
        if abs(one.start[0] - one.end[0]) < _LEVEL:
            gaps.append((one.move, "the section of a pass of a thread in a face is not computed"))
            continue
        under = _under(one, left, crests)
        if under is None:
            continue
        nose, angle = float(tool.nose_radius or 0), float(tool.profile_angle)
        groove = _Groove(one, origin, under.depth)
        before = _in_groove(groove, grooves, angle)
        bites = [_bite(one, under, k, before[k], nose, angle) for k in (0, 1)]
        if any(bite.deeper > _NOTHING for bite in bites):
            cuts.append(ThreadCut(one.move, *bites))
            grooves.append(groove)
    return tuple(cuts), tuple(gaps)


def _origin(one: ThreadPass, before: tuple[ThreadPass, float] | None) -> float:
    """Where the helix of a pass began along Z: a pull-out goes on in the groove of its pass."""
    if before is not None:
        last, origin = before
        joined = last.move == one.move - 1 and abs(last.end[0] - one.start[0]) < _LEVEL
        if joined and abs(last.end[1] - one.start[1]) < _LEVEL and last.lead == one.lead:
            return origin
    return one.start[0]


def _bite(one: ThreadPass, under: _Under, half: int, before: float, nose: float, angle: float) -> Bite:
    depth = under.depth[half]
    if depth <= before + _NOTHING:
        return Bite(depth, 0.0, 0.0, 0.0, under.radius[half])
    section = groove_area(depth, nose, angle, under.slope) - groove_area(before, nose, angle, under.slope)
    radius = under.radius[half] + (-depth if one.inside else depth) / 2
    return Bite(depth, depth - before, section, edge_of_profile(depth, nose, angle, under.slope), radius)


def _under(one: ThreadPass, left: shapely.Geometry, known: dict[tuple[float, ...], float | None]) -> _Under | None:
    """How a pass lies in the piece; None where it meets nothing."""
    if abs(one.start[1] - one.end[1]) > _LEVEL:
        return _along_taper(one, left)
    crest, radius = _crest(one, left, known), one.end[1]
    if crest is None:
        return None
    depth = radius - crest if one.inside else crest - radius
    return _Under((depth, depth), (radius, radius), 0.0)


def _along_taper(one: ThreadPass, left: shapely.Geometry) -> _Under | None:
    """The same along a taper. Crest and pass are straight from corner to corner of the surface, so that the depth is greatest at a corner."""
    (z0, r0), (z1, r1) = one.start, one.end
    beyond = 0.0 if one.inside else float(shapely.bounds(left)[3]) + 1
    met = shapely.intersection(
        left, shapely.make_valid(shapely.polygons([(z0, r0), (z1, r1), (z1, beyond), (z0, beyond)]))
    )
    parts = [part for part in shapely.get_parts(met) if part.geom_type == "Polygon" and shapely.area(part) > 1e-9]
    if not parts:
        return None
    slope = (r1 - r0) / (z1 - z0)
    ends = [float(z) for part in parts for z in shapely.bounds(part)[[0, 2]]]
    middle = (min(ends) + max(ends)) / 2
    halves: tuple[list[tuple[float, float]], list[tuple[float, float]]] = ([], [])
    lines: list[tuple[float, float]] = []
    for part in parts:
        ring = shapely.get_coordinates(part.exterior).tolist()
        for (za, ra), (zb, rb) in itertools.pairwise(ring):
            deep = [(-1 if one.inside else 1) * (r - (r0 + slope * (z - z0))) for z, r in ((za, ra), (zb, rb))]
            if min(deep) > _NOTHING and abs(zb - za) > _LEVEL:
                lines.append((abs(zb - za), (rb - ra) / (zb - za)))
            places = [(za, deep[0]), (zb, deep[1])]
            if (za - middle) * (zb - middle) < 0:
                places.append((middle, deep[0] + (deep[1] - deep[0]) * (middle - za) / (zb - za)))
            for z, depth in places:
                for half in (0, 1):
                    if (z - middle) * (z0 - middle) * (1, -1)[half] >= -_LEVEL:
                        halves[half].append((depth, z))
    deepest = [max(half) for half in halves]
    depth0, depth1 = (depth for depth, _ in deepest)
    at0, at1 = (r0 + slope * (z - z0) for _, z in deepest)
    return _Under((depth0, depth1), (at0, at1), max(lines, default=(0.0, slope))[1])


def _crest(one: ThreadPass, left: shapely.Geometry, known: dict[tuple[float, ...], float | None]) -> float | None:
    """The radius of the surface that the thread is cut into; None where it meets nothing. One look serves passes of one stretch."""
    z0, z1 = sorted((one.start[0], one.end[0]))
    bounds = shapely.bounds(left).tolist()
    radius = one.end[1]
    key = (round(z1, 0), round(z0, 1), float(one.inside), float(one.lead))
    if key not in known or known[key] is None:
        box = shapely.box(z0, 0.0, z1, radius) if one.inside else shapely.box(z0, radius, z1, bounds[3] + 1)
        met = shapely.intersection(left, box)
        edge = shapely.bounds(met).tolist()
        found = None if met.is_empty or shapely.area(met) < 1e-9 else edge[1 if one.inside else 3]
        known[key] = found
    return known[key]


def _in_groove(here: _Groove, grooves: list[_Groove], angle: float) -> Halves:
    """How deep the groove already is that a pass follows: one whose middle lies within the profile, after whole leads."""
    one, lead = here.cut, float(here.cut.lead)
    first, second = 0.0, 0.0
    for groove in grooves:
        other = groove.cut
        if other.inside != one.inside or other.lead != one.lead or other.lead_change != one.lead_change:
            continue
        turned = (float(one.start_angle or 0) - float(other.start_angle or 0)) / 360
        apart = (here.origin - groove.origin) / lead + turned
        aside = abs(apart - round(apart)) * lead
        overlap = one.start[0] > other.end[0] and other.start[0] > one.end[0]
        reversed_ = one.end[0] > one.start[0]
        if aside <= max(*here.depth, *groove.depth) * tan(radians(angle / 2)) + 1e-6 and (overlap or reversed_):
            first, second = max(first, groove.depth[0]), max(second, groove.depth[1])
    return first, second
