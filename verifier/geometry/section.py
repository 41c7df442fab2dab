"""The half section of the piece while it is cut: polygons in slabs along Z, so that a cut costs by what is near it and not by the whole.

Measured against columns of radii and bitmaps (0.002 mm columns were slower, blind to undercuts, and 1e-5 mm2 off): polygon overlay is exact to
the rounding of floats, keeps undercuts, and one incremental difference a move leaves what the next rapid meets.
"""

from __future__ import annotations

import itertools
from bisect import bisect_left, bisect_right
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from verifier.geometry.spans import Spans

Geometries = NDArray[np.object_]

THIN = 0.002
"""Two bodies meet where their overlap is thicker than twice this, in mm: less is the rounding of chords and of sliding along a cut face."""
_LEAST = 1e-9
_POLYGON = int(shapely.GeometryType.POLYGON)
_MOST_POINTS = 120
_FEW = 8
"""After so many corners more, those on straight lines are looked for."""
_NARROW = 0.01
_HELD_IN = 4
"""Over so many slabs at most an area is asked for being all material: more cost as much as an overlay."""
_NEAR = (0.01, 0.001)
"""How near a corner may be to where slabs are parted, mm: rather the first; the second where passes have left corners close to one another."""
_AROUND = 0.5
_ROUNDING = 1e-11
"""Half sections that are farther apart than this, in mm, differ: a program's lengths are whole ticks of 1e-8 mm, the rounding of floats is 1e-13."""
_LEAST_SHARE = 0.1
"""A cut between slabs leaves at least so much of the corners on either side."""
CRUMB = 0.5
"""Half sections below this, in mm2, are swarf and pips, not pieces."""


@dataclass(frozen=True, slots=True)
class Meeting:
    """Where a tool overlaps something: mm2, and the box around it, Z and radius in mm. `deep` is the smaller side of that box."""

    area: float
    z_from: float
    z_to: float
    r_from: float
    r_to: float

    @property
    def deep(self) -> float:
        """How far one stands in the other at most, mm."""
        return min(self.z_to - self.z_from, self.r_to - self.r_from)


Box = tuple[float, float, float, float]
"""Z and radius from, Z and radius to."""
_EMPTY: Box = (np.inf, np.inf, -np.inf, -np.inf)


class Section:
    """A half section that is cut away from."""

    def __init__(self, polygon: shapely.Geometry) -> None:
        low, _, high, _ = box_of(polygon)
        self._ends = [low, high]
        self._slabs: list[shapely.Geometry] = [polygon]
        self._boxes: list[Box] = [box_of(polygon)]
        self._limits: list[int] = [_MOST_POINTS]
        self._counts: list[int] = [0]
        self._halve(0)

    def copy(self) -> Section:
        """The same half section, to be cut on its own."""
        other = Section.__new__(Section)
        other._ends, other._slabs = list(self._ends), list(self._slabs)
        other._boxes, other._limits = list(self._boxes), list(self._limits)
        other._counts = list(self._counts)
        return other

    def whole(self) -> shapely.Geometry:
        """What is left, as one geometry."""
        return self._slabs[0] if len(self._slabs) == 1 else united(np.array(self._slabs, object))

    def cut(self, tool: shapely.Geometry, box: Box) -> Geometries | None:
        """Take a swept tool away and give what it takes; None where it takes nothing. `box` is the box around the tool."""
        near = self._near(box)
        if not near:
            return None
        slabs = np.array([self._slabs[k] for k in near], object)
        common = _overlay(shapely.intersection, slabs, tool)
        hit = np.flatnonzero(shapely.area(common) > _LEAST)
        if not len(hit):
            return None
        left = _overlay(shapely.difference, slabs[hit], tool)
        # From the last to the first: halving a slab moves those behind it.
        for k, geometry in zip(reversed([near[k] for k in hit.tolist()]), left[::-1], strict=True):
            self._put(k, geometry)
            self._tidy(k)
        return _solid(common[hit])

    def holds(self, area: shapely.Geometry) -> bool:
        """Whether all of an area is material, and lies within a few slabs."""
        box = box_of(area)
        first, last = self._along(box)
        if not 0 < last - first <= _HELD_IN or box[0] < self._ends[0] or box[2] > self._ends[-1]:
            return False
        slabs = self._slabs[first:last]
        # They are asked again and again while a tool goes on.
        shapely.prepare(slabs)
        if len(slabs) == 1:
            return bool(shapely.covers(slabs[0], area))
        ends = itertools.pairwise(self._ends[first : last + 1])
        parts = [shapely.clip_by_rect(area, low, box[1] - 1, high, box[3] + 1) for low, high in ends]
        return bool(shapely.covers(slabs, parts).all())

    def take(self, tool: shapely.Geometry, box: Box) -> None:
        """Take a swept tool away, as `cut` does, where nobody asks what it takes."""
        near = self._near(box)
        if near:
            slabs = np.array([self._slabs[k] for k in near], object)
            left = _overlay(shapely.difference, slabs, tool)
            hit = np.flatnonzero(shapely.area(slabs) - shapely.area(left) > _LEAST)
            for k in reversed(hit.tolist()):
                self._put(near[k], left[k])
                self._tidy(near[k])

    def with_part_of(self, other: Section, spans: Spans) -> Section:
        """Another half section of the same stock, but this one within some stretches of Z."""
        low, high = other._ends[0], other._ends[-1]
        spans = spans.within(low, high)
        ends = {end for span in spans for end in span}
        ends |= {end for end in other._ends if not spans.touch(end, end)}
        ends |= {end for end in self._ends if spans.touch(end, end)}
        # The ends of the stock are ends in any case.
        made = Section.__new__(Section)
        made._ends = sorted(ends | {low, high})
        pairs = list(itertools.pairwise(made._ends))
        made._slabs = [(self if spans.touch((a + b) / 2, (a + b) / 2) else other)._between(a, b) for a, b in pairs]
        made._boxes = [box_of(slab) for slab in made._slabs]
        made._limits = [_MOST_POINTS] * len(pairs)
        made._counts = [int(shapely.get_num_coordinates(slab)) for slab in made._slabs]
        return made

    def apart(self, other: Section, spans: Spans) -> Spans:
        """Where within some stretches of Z two half sections of one stock differ by more than the rounding of floats, with a little around it."""
        found = Spans()
        for low, high in spans.within(self._ends[0], self._ends[-1]):
            mine, theirs = self._between(low, high), other._between(low, high)
            parts = shapely.get_parts(_overlay(shapely.symmetric_difference, np.array([mine], object), theirs))
            z0, r0, z1, r1 = shapely.bounds(parts).T
            thick = shapely.area(parts) > _ROUNDING * np.maximum(z1 - z0, r1 - r0)
            for z0, z1 in shapely.bounds(parts[thick])[:, [0, 2]].tolist():
                found.add(max(z0 - _AROUND, low), min(z1 + _AROUND, high))
        return found

    def _between(self, low: float, high: float) -> shapely.Geometry:
        """What is left between two places on Z."""
        first, last = bisect_right(self._ends, low) - 1, bisect_left(self._ends, high)
        first, last = max(first, 0), min(last, len(self._slabs))
        if last == first + 1 and (self._ends[first], self._ends[last]) == (low, high):
            return self._slabs[first]
        boxes = [box for box in self._boxes[first:last] if box[0] <= box[2]]
        if not boxes:
            return shapely.Polygon()
        bottom, top = min(box[1] for box in boxes), max(box[3] for box in boxes)
        window = shapely.box(low, bottom - 1, high, top + 1)
        near = _overlay(shapely.intersection, np.array(self._slabs[first:last], object), window)
        pieces = shapely.get_parts(near)
        return united(pieces[shapely.get_dimensions(pieces) == 2])

    def let_go(self, held: float) -> list[shapely.Geometry]:
        """Drop every piece that does not reach `held`, the Z of the end by which the stock is held, and give them back.

        Crumbs stay where they are.
        """
        pieces = shapely.get_parts(self.whole())
        if len(pieces) < 2:
            return []
        real = pieces[shapely.area(pieces) > CRUMB]
        loose = real[shapely.bounds(real)[:, 0] > held + _NARROW]
        for piece in loose:
            for k in self._near(box_of(piece)):
                kept = [
                    part
                    for part in shapely.get_parts(self._slabs[k])
                    if not shapely.intersects(shapely.buffer(piece, -_NARROW), part)
                ]
                self._put(k, shapely.union_all(np.array(kept, object)) if kept else shapely.Polygon())
        return list(loose)

    def meets(self, tool: shapely.Geometry, box: Box | None = None) -> Meeting | None:
        """Where a swept tool overlaps what is left, by more than a touch."""
        near = self._near(box_of(tool) if box is None else box)
        if not near:
            return None
        slabs = np.array([self._slabs[k] for k in near], object)
        touched = slabs[shapely.intersects(slabs, tool)]
        if not len(touched):
            return None
        common = _overlay(shapely.intersection, touched, tool)
        # Thickness is that of the whole overlap, wherever the slabs part it.
        return meeting(common if len(common) == 1 else shapely.get_parts(united(common)))

    def touches(self, tool: shapely.Geometry, box: Box) -> bool:
        """Whether a swept tool has any place in common with what is left."""
        near = self._near(box)
        return bool(near) and bool(shapely.intersects(np.array([self._slabs[k] for k in near], object), tool).any())

    def _near(self, box: Box) -> list[int]:
        """The slabs whose own boxes overlap a box."""
        first, last = self._along(box)
        return [k for k in range(first, last) if overlap(self._boxes[k], box)]

    def _along(self, box: Box) -> tuple[int, int]:
        """The slabs along which a box lies: the first, and the one behind the last."""
        first = max(bisect_right(self._ends, box[0]) - 1, 0)
        return first, min(bisect_left(self._ends, box[2]), len(self._slabs))

    def _put(self, k: int, slab: shapely.Geometry) -> None:
        self._slabs[k], self._boxes[k] = slab, box_of(slab)

    def _tidy(self, k: int) -> None:
        """Leave out corners that lie on straight lines, as many cuts along one wall leave them, and halve a slab that has many others."""
        if int(shapely.get_num_coordinates(self._slabs[k])) <= self._counts[k] + _FEW:
            return
        # A distance of nothing: what is left out lies exactly between its neighbours.
        self._slabs[k] = shapely.simplify(self._slabs[k], 0, preserve_topology=False)
        self._counts[k] = int(shapely.get_num_coordinates(self._slabs[k]))
        self._halve(k)

    def _halve(self, k: int) -> None:
        """Halve a slab, and its halves, until each has few corners, or has them all at one Z."""
        slab = self._slabs[k]
        count = int(shapely.get_num_coordinates(slab))
        if count <= self._limits[k]:
            return
        middle = _middle(shapely.get_coordinates(slab)[:, 0])
        if middle is None:
            # Not asked again before it has grown much.
            self._limits[k] = 2 * count
            return
        low, bottom, high, top = self._boxes[k]
        halves = [
            shapely.intersection(slab, shapely.box(z0, bottom - 1, z1, top + 1))
            for z0, z1 in ((low - 1, middle), (middle, high + 1))
        ]
        self._ends.insert(k + 1, middle)
        self._slabs[k : k + 1] = halves
        self._boxes[k : k + 1] = [box_of(half) for half in halves]
        self._limits[k : k + 1] = [_MOST_POINTS, _MOST_POINTS]
        self._counts[k : k + 1] = [int(shapely.get_num_coordinates(half)) for half in halves]
        self._halve(k + 1)
        self._halve(k)


def overlap(one: Box, other: Box) -> bool:
    """Whether two boxes have an area in common."""
    return one[0] < other[2] and one[2] > other[0] and one[1] < other[3] and one[3] > other[1]


def box_of(geometry: shapely.Geometry) -> Box:
    """The box around a geometry; one that nothing overlaps around an empty one."""
    z0, r0, z1, r1 = shapely.bounds(geometry).tolist()
    return (z0, r0, z1, r1) if z0 == z0 else _EMPTY


def _middle(corners: NDArray[np.float64]) -> float | None:
    """A Z between corners that parts them about in halves, none of them near it; None where most of them lie at one Z."""
    z = np.sort(corners)
    between, least = np.diff(z), _LEAST_SHARE * len(z)
    for near in _NEAR:
        gaps = np.flatnonzero(between > 2 * near)
        if len(gaps):
            k = int(gaps[np.abs(gaps - len(z) // 2).argmin()])
            if least < k + 1 < len(z) - least:
                return float((z[k] + z[k + 1]) / 2)
    return None


def meeting(common: Geometries) -> Meeting | None:
    """Overlaps as one meeting; None where they are as thin as a touch."""
    common = common[shapely.area(common) > _LEAST]
    if not len(common):
        return None
    thick = common[~shapely.is_empty(shapely.buffer(common, -THIN))]
    if not len(thick):
        return None
    z0, r0, z1, r1 = shapely.total_bounds(thick).tolist()
    return Meeting(float(shapely.area(thick).sum()), z0, z1, r0, r1)


def united(parts: Geometries) -> shapely.Geometry:
    """The union of areas; where floats fail it, once more on a grid of a nanometre."""
    try:
        return shapely.union_all(parts)
    except shapely.GEOSException:
        return shapely.union_all(shapely.make_valid(parts), grid_size=1e-6)


def _solid(taken: Geometries) -> Geometries:
    """What was taken without what was only touched: the lines along a wall, and slivers of nothing but rounding."""
    for k in np.flatnonzero(shapely.get_type_id(taken) > _POLYGON).tolist():
        pieces = shapely.get_parts(taken[k])
        solid = pieces[shapely.area(pieces) > _LEAST]
        if len(solid):
            taken[k] = solid[0] if len(solid) == 1 else shapely.multipolygons(solid)
    return taken


def _overlay(operation: np.ufunc, slabs: Geometries, tool: shapely.Geometry) -> Geometries:
    """An overlay; where floats fail it, once more on a grid of a nanometre."""
    try:
        return np.asarray(operation(slabs, tool), object)
    except shapely.GEOSException:
        return np.asarray(operation(shapely.make_valid(slabs), shapely.make_valid(tool), grid_size=1e-6), object)
