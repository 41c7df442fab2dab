"""What stands beside the tool at work: the tools of the other stations, and the ring that they sweep when the turret indexes.

The turret's axis is along Z, its stations lie evenly about it, and the tool at work points straight at the centre line. A point of another
tool, `rho` from the turret's axis and `y` beside the middle of its tool, at an angle `turn` from the station at work, is then
sqrt(D^2 + rho^2 + y^2 - 2 D rho cos(turn) -+ 2 D y sin(turn)) from the centre line, with D the distance of the two axes (law of cosines).
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import cos, pi, sin

import numpy as np
import shapely
from numpy.typing import NDArray

from verifier.geometry.part import Gap
from verifier.geometry.section import united
from verifier.geometry.sweep import swept_body
from verifier.geometry.tool_outline import Points, ToolOutline
from verifier.machines import Setup, Tool

_STEP = 1.0
"""A neighbour that nears the centre line is looked at in steps of so many mm, and its edges in pieces as long."""
_FAR = 1e4
WHAT = "neighbouring stations, the swing of an index"
NO_TURRET = "the setup sheet has no turret: neighbours not checked"
ONLY_NAMED = "only the tools of the setup sheet are looked at, not the turret itself"
NOT_PLACED = "from_turret_axis and from_turret_face not given: its neighbours and its index are not checked"


@dataclass(frozen=True, slots=True)
class _Station:
    """A tool as it sits in the turret, in mm: its shapes as (dz, dr) from its programmed point, where that lies, half its width.

    A round one (a drill) has its half section as its shape, its axis at the programmed point, and no width of its own.
    """

    number: int
    shapes: tuple[Points, ...]
    axis: float
    face: float
    half: float
    is_round: bool

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Least and greatest distance along Z from the turret's face, and from its axis."""
        points = np.concatenate(self.shapes)
        z0, r0 = points.min(axis=0).tolist()
        z1, r1 = points.max(axis=0).tolist()
        r0 = min(r0, -r1) if self.is_round else r0
        return z0 - self.face, z1 - self.face, max(self.axis - r1, 0.0), self.axis - r0


class TurretRoom:
    """The turret of a setup sheet around the tool at work; without one in the sheet it is empty, and says so."""

    def __init__(self, setup: Setup, outlines: Mapping[int, ToolOutline | str]) -> None:
        self._turret = setup.turret
        self._stations: dict[int, _Station] = {}
        self.gaps = tuple(self._place(setup, outlines))

    def _place(self, setup: Setup, outlines: Mapping[int, ToolOutline | str]) -> Iterator[Gap]:
        if setup.turret is None:
            yield Gap(None, WHAT, NO_TURRET, 0, False)
            return
        yield Gap(None, WHAT, ONLY_NAMED, 0, False)
        for number, tool in setup.tools.items():
            outline = outlines[number]
            if tool.from_turret_axis is None or tool.from_turret_face is None:
                yield Gap(
                    None,
                    f"T{number}",
                    "from_turret_axis or from_turret_face not given: not checked as a neighbour",
                    0,
                    False,
                )
            elif isinstance(outline, str):
                yield Gap(None, f"T{number}", f"{outline}: not checked as a neighbour", 0, False)
            else:
                self._stations[number] = _station(
                    tool, outline, float(tool.from_turret_axis), float(tool.from_turret_face)
                )
                yield from _thin(tool, outline)

    def knows(self, tool: int) -> bool:
        """Whether it is known where the tool at work sits in the turret (without a turret there is nothing to know)."""
        return self._turret is None or tool in self._stations

    def near(self, tools: Sequence[object], low: Points, high: Points, reach: Sequence[float]) -> NDArray[np.bool_]:
        """Moves (by their tool, and the box of their way) on which a neighbour may come into the box around piece and keep-outs."""
        found = np.zeros(len(low), np.bool_)
        if self._turret is None:
            return found
        at_work = np.array([tool if isinstance(tool, int) else -1 for tool in tools], np.int64)
        for number, here in self._stations.items():
            rows = np.flatnonzero(at_work == number)
            for other, turn in self._neighbours(number) if len(rows) else ():
                z0, z1, rho0, rho1 = other.box
                near_z = (low[rows, 0] + here.face + z0 < reach[2]) & (high[rows, 0] + here.face + z1 > reach[0])
                found[rows] |= near_z & (
                    _least(low[rows, 1] + here.axis, high[rows, 1] + here.axis, (rho0, rho1), other.half, turn)
                    < reach[3]
                )
        return found

    def _neighbours(self, tool: int) -> Iterator[tuple[_Station, float]]:
        assert self._turret is not None
        for number, other in self._stations.items():
            if number != tool:
                yield other, 2 * pi * (number - tool) / self._turret.stations

    def beside(self, tool: int, way: Points) -> Iterator[tuple[str, shapely.Geometry]]:
        """What the tools of the other stations pass over while the tool at work goes a way, each by its name."""
        here = self._stations.get(tool)
        if here is None or self._turret is None:
            return
        stops = _stops(way)
        for other, turn in self._neighbours(tool):
            parts = [hull for shape in other.shapes for hull in _passed(shape, other, here, turn, stops)]
            yield f"T{other.number}", united(np.array(parts, object))

    def swing(self, tool: int, at: Points) -> Iterator[tuple[str, shapely.Geometry]]:
        """What each tool passes over when the turret indexes, the tool at work standing at a place; any way round."""
        here = self._stations.get(tool)
        if here is None or self._turret is None:
            return
        face, axis = float(at[0]) + here.face, float(at[1]) + here.axis
        for other in self._stations.values():
            parts = [_ring(shape, other, face, axis) for shape in other.shapes]
            yield f"T{other.number}", united(np.array(parts, object))
        if self._turret.swing_radius is not None and self._turret.swing_length is not None:
            radius, length = float(self._turret.swing_radius), float(self._turret.swing_length)
            yield "the ring that all tools sweep", shapely.box(face - length, axis - radius, face, axis + radius)


def _station(tool: Tool, outline: ToolOutline, axis: float, face: float) -> _Station:
    # A blade or drill without a known length is taken to end at the turret's axis, or at its face.
    inside = shapely.box(-_FAR, -_FAR, face if face > 0 else _FAR, axis)
    clipped = shapely.intersection(shapely.polygons(outline.edge), inside)
    edges = [shapely.get_coordinates(part)[:-1] for part in shapely.get_parts(clipped) if shapely.area(part) > 0]
    bodies = [piece for body in outline.bodies for piece in _convex(body)]
    shapes = tuple(_dense(shape) for shape in (*edges, *bodies))
    is_round = tool.kind == "drill"
    width = 0 if is_round else tool.holder_width or tool.shank_diameter or 0
    return _Station(tool.station, shapes, axis, face, float(width) / 2, is_round)


def _thin(tool: Tool, outline: ToolOutline) -> Iterator[Gap]:
    if not outline.bodies:
        yield Gap(
            None, f"T{tool.station}", "its holder is not given: as a neighbour only its edge is looked at", 0, False
        )
    elif tool.holder_width is None and tool.shank_diameter is None and tool.kind != "drill":
        yield Gap(None, f"T{tool.station}", "holder_width not given: as a neighbour it is taken to be flat", 0, False)


def _convex(body: Points) -> list[Points]:
    """A body in triangles: what a convex shape passes over lies in the hull of where it was and where it is."""
    whole = shapely.make_valid(shapely.polygons(body))
    return [
        shapely.get_coordinates(part)[:-1] for part in shapely.get_parts(shapely.constrained_delaunay_triangles(whole))
    ]


def _dense(points: Points) -> Points:
    ring = shapely.segmentize(shapely.linearrings(points), _STEP)
    return np.asarray(shapely.get_coordinates(ring)[:-1], np.float64)


def _stops(way: Points) -> Points:
    """Points along a way so that none is more than a step farther from the centre line than the one before."""
    found = [way[:1]]
    for start, end in itertools.pairwise(way):
        count = max(int(np.ceil(abs(float(end[1] - start[1])) / _STEP)), 1)
        found.append(start + (end - start) * np.linspace(0, 1, count + 1)[1:, None])
    return np.concatenate(found)


def _passed(shape: Points, other: _Station, here: _Station, turn: float, stops: Points) -> Iterator[shapely.Geometry]:
    placed = [_placed(shape, other, turn, float(z) + here.face, float(r) + here.axis) for z, r in stops]
    if len(placed) == 1:
        yield shapely.convex_hull(shapely.multipoints(placed[0]))
    for one, next_one in itertools.pairwise(placed):
        yield shapely.convex_hull(shapely.multipoints(np.concatenate((one, next_one))))


def _placed(shape: Points, other: _Station, turn: float, face: float, axis: float) -> Points:
    """A shape of another station in the half plane, both sides of its width."""
    rho = other.axis - shape[:, 1]
    z = face - other.face + shape[:, 0]
    sides = []
    if other.is_round:
        middle = float(np.sqrt(axis**2 + other.axis**2 - 2 * axis * other.axis * cos(turn)))
        return np.concatenate([np.stack((z, middle + sign * shape[:, 1]), 1) for sign in (-1, 1)])
    for y in {-other.half, other.half}:
        squared = axis**2 + rho**2 + y**2 - 2 * axis * rho * cos(turn) + 2 * axis * y * sin(turn)
        sides.append(np.stack((z, np.sqrt(np.maximum(squared, 0.0))), 1))
    return np.concatenate(sides)


def _ring(shape: Points, other: _Station, face: float, axis: float) -> shapely.Geometry:
    """What a shape passes over on its way round the turret's axis: itself, and all that is farther out, to the other side."""
    rho = other.axis + shape[:, 1] if other.is_round else np.hypot(other.axis - shape[:, 1], other.half)
    body = np.stack((face - other.face + shape[:, 0], axis - rho), 1)
    return swept_body(body, np.array([[0.0, 0.0], [0.0, 2 * float(rho.max())]]))


def _least(low: Points, high: Points, rho: tuple[float, float], half: float, turn: float) -> Points:
    """A lower bound of the distance from the centre line, over boxes of distances of the axes and of one tool."""
    c, s = cos(turn), sin(turn)
    ends = sorted((rho[0] * c, rho[1] * c))
    across = sorted((rho[0] * s, rho[1] * s))
    x0, x1 = low - ends[1] - half * abs(s), high - ends[0] + half * abs(s)
    y0, y1 = across[0] - half * abs(c), across[1] + half * abs(c)
    off_x = np.maximum(np.maximum(x0, -x1), 0.0)
    return np.asarray(np.hypot(off_x, max(y0, -y1, 0.0)), np.float64)
