"""A plain, slow second way to sweep a trace: no slabs, no boxes, no batches, one polygon and one move after the other.

What an edge passes over is the union of the hulls of where it stands at the corners of its way; material is what shapely's overlay leaves. It has no
bodies, threads, drills or changes of tools: the test compares it on programs that need none.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from math import hypot, pi

import numpy as np
import shapely

from verifier.control import Kind, Trace
from verifier.geometry import ToolOutline, stock_section, tool_outline
from verifier.geometry.place import Places
from verifier.geometry.sweep import path_points
from verifier.machines import Machine, Setup


@dataclass(frozen=True, slots=True)
class Slow:
    """What the moves took: (area, volume, across) by move, what each took as a shape, what rapids met by move (mm2), what is left."""

    taken: dict[int, tuple[float, float, float]]
    shapes: dict[int, shapely.Geometry]
    met: dict[int, float]
    left: shapely.Geometry


def slow_sweep(trace: Trace, machine: Machine, setup: Setup) -> Slow:
    """Sweep the feeds and rapids of a trace whose places and tools are all known, except on the way to its first place."""
    assert setup.stock is not None
    left = stock_section(setup.stock)
    places, moves = Places(trace, machine, setup), trace.moves
    found = Slow({}, {}, {}, left)
    for k in range(trace.first_pass):
        station = trace.states[int(moves.state[k])].tool
        if places.why[k] or not isinstance(station, int):
            continue
        outline = tool_outline(setup.tools[station])
        assert isinstance(outline, ToolOutline) and not outline.bodies
        kind = Kind(int(moves.kind[k]))
        start, end = places.start[k], places.end[k]
        way = np.array([start, end])
        if kind.arc:
            way = path_points(start, end, places.centre[k], clockwise_in_zr=kind is Kind.ARC_CW)
        hulls = [
            shapely.convex_hull(shapely.multipoints(np.concatenate((outline.edge + a, outline.edge + b))))
            for a, b in itertools.pairwise(way)
        ]
        swept = shapely.union_all(hulls)
        parts = shapely.get_parts(shapely.intersection(left, swept))
        # What was only touched, and slivers of nothing but rounding, are not taken.
        common = shapely.union_all(parts[shapely.area(parts) > 1e-9])
        if kind is Kind.RAPID:
            if not shapely.buffer(common, -0.002).is_empty:
                found.met[k] = common.area
        elif common.area > 1e-9:
            found.taken[k] = (common.area, 2 * pi * common.area * common.centroid.y, _across(common, start, end))
            found.shapes[k] = common
            left = shapely.difference(left, swept)
    return Slow(found.taken, found.shapes, found.met, left)


def _across(shape: shapely.Geometry, start: np.ndarray, end: np.ndarray) -> float:
    z, r = (float(v) for v in end - start)
    length = hypot(z, r)
    aside = [(y * z - x * r) / length for x, y in shapely.get_coordinates(shape).tolist()] if length else [0.0]
    return max(aside) - min(aside)
