"""The swarf section of every pass of a thread: what its profile takes more than the pass before it in the same groove."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import acos, cos, pi, radians, sin, sqrt, tan

import shapely

from verifier.geometry.part import ThreadPass
from verifier.machines import Tool

_NOTHING = 1e-6


@dataclass(frozen=True, slots=True)
class ThreadCut:
    """One pass: the move's number, how deep it stands below the crest and by how much deeper than before (mm), what it takes (mm2), and
    the length of the edge that takes it (mm). `radius` is that of the middle of the swarf.
    """

    move: int
    depth: float
    deeper: float
    section: float
    width: float
    radius: float


def groove_area(depth: float, nose: float, angle: float) -> float:
    """The area in mm2 of the groove that a profile of a full angle (degrees) with a round tip leaves, so deep."""
    half = radians(angle / 2)
    if depth <= 0:
        return 0.0
    if depth <= nose * (1 - sin(half)):
        return nose**2 * acos(1 - depth / nose) - (nose - depth) * sqrt(2 * nose * depth - depth**2)
    # A full V down to where its flanks would meet, less what the round tip leaves standing there.
    whole = (depth + nose / sin(half) - nose) ** 2 * tan(half)
    return whole - nose**2 * (1 / tan(half) - (pi / 2 - half))


def edge_of_profile(depth: float, nose: float, angle: float) -> float:
    """The length in mm of such a profile, so deep in the material."""
    half = radians(angle / 2)
    if depth <= 0:
        return 0.0
    top = nose * (1 - sin(half))
    if depth <= top:
        return 2 * nose * acos(1 - depth / nose)
    return 2 * nose * (pi / 2 - half) + 2 * (depth - top) / cos(half)


def thread_cuts(
    passes: Sequence[ThreadPass], tools: Mapping[int, Tool], left: shapely.Geometry
) -> tuple[tuple[ThreadCut, ...], tuple[tuple[int, str], ...]]:
    """The passes with their sections, and (move, reason) of those that have none. `tools` gives the tool by the move's number."""
    cuts: list[ThreadCut] = []
    gaps: list[tuple[int, str]] = []
    grooves: list[tuple[ThreadPass, float]] = []
    crests: dict[tuple[float, ...], float | None] = {}
    for one in passes:
        tool = tools[one.move]
        assert tool.profile_angle is not None
        crest = _crest(one, left, crests)
        if abs(one.start[1] - one.end[1]) > 1e-6:
            gaps.append((one.move, "the section of a pass of a taper thread is not computed"))
            continue
        if crest is None:
            continue
        depth = (one.end[1] - crest) if one.inside else (crest - one.end[1])
        before = _in_groove(one, depth, grooves, float(tool.profile_angle))
        nose, angle = float(tool.nose_radius or 0), float(tool.profile_angle)
        if depth > before + _NOTHING:
            section = groove_area(depth, nose, angle) - groove_area(before, nose, angle)
            radius = one.end[1] + (-depth if one.inside else depth) / 2
            cuts.append(
                ThreadCut(one.move, depth, depth - before, section, edge_of_profile(depth, nose, angle), radius)
            )
            grooves.append((one, depth))
    return tuple(cuts), tuple(gaps)


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


def _in_groove(one: ThreadPass, depth: float, grooves: list[tuple[ThreadPass, float]], angle: float) -> float:
    """How deep the groove already is that this pass follows: one whose middle lies within the profile, after whole leads."""
    lead = float(one.lead)
    deepest = 0.0
    for other, reached in grooves:
        if other.inside != one.inside or other.lead != one.lead or other.lead_change != one.lead_change:
            continue
        turned = (float(one.start_angle or 0) - float(other.start_angle or 0)) / 360
        apart = (one.start[0] - other.start[0]) / lead + turned
        aside = abs(apart - round(apart)) * lead
        overlap = one.start[0] > other.end[0] and other.start[0] > one.end[0]
        reversed_ = one.end[0] > one.start[0]
        if aside <= max(depth, reached) * tan(radians(angle / 2)) + 1e-6 and (overlap or reversed_):
            deepest = max(deepest, reached)
    return deepest
