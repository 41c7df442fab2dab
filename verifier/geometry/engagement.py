"""How a tool stands in its cut: which edge leads, at which angle, and how long an edge is in the material at a depth.

Directions lie in the plane (Z, R). An edge is a direction away from the nose.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, pi, radians, sin

import numpy as np
from numpy.typing import NDArray

from verifier.geometry.tool_outline import NOSE
from verifier.machines import CORNERS, Tool

Floats = NDArray[np.float64]
_LEADS = 1e-9


@dataclass(frozen=True, slots=True)
class Edges:
    """The edges of a tool. `kind`: "insert" (two straight edges and a nose), "round", "blade", "drill".

    `nose` is the radius in mm, `offset` leads from the programmed point to the nose's centre (Z, R); `edges` are the unit directions of the two
    straight edges, and `normals` which way each looks out of the tool. `point` is half the point angle of a drill in radians.
    """

    kind: str
    nose: float = 0.0
    offset: tuple[float, float] = (0.0, 0.0)
    edges: tuple[tuple[float, float], ...] = ()
    normals: tuple[tuple[float, float], ...] = ()
    point: float = pi / 2

    @property
    def rounds(self) -> bool:
        """Whether a nose circle leaves the surface behind it."""
        return self.kind in ("insert", "round") and self.nose > 0


def tool_edges(tool: Tool) -> Edges | None:
    """The edges of a tool whose outline is known; None for one that turns nothing (or threads, which have their own sections)."""
    if tool.kind == "drill":
        return Edges("drill", point=radians(float(tool.point_angle or 180)) / 2)
    if tool.kind in ("grooving", "parting"):
        return Edges("blade")
    if tool.kind not in ("turning", "boring") or tool.orientation is None or tool.shape is None:
        return None
    along, across = NOSE[tool.orientation]
    if tool.shape == "R":
        nose = float(tool.edge_length or 0) / 2
        return Edges("round", nose, (-along * nose, -across * nose))
    nose = float(tool.nose_radius or 0)
    corner = CORNERS[tool.shape][0]
    bisector = 90.0 if across else 0.0
    if tool.approach_angle is not None:
        bisector = 180 - float(tool.approach_angle) - corner / 2
    signs = (-1 if along > 0 else 1, -1 if across > 0 else 1)
    turned = [radians(bisector + side * corner / 2) for side in (-1, 1)]
    edges = tuple((signs[0] * cos(a), signs[1] * sin(a)) for a in turned)
    normals = tuple(
        (signs[0] * cos(a + side * pi / 2), signs[1] * sin(a + side * pi / 2))
        for a, side in zip(turned, (-1, 1), strict=True)
    )
    return Edges("insert", nose, (-along * nose, -across * nose), edges, normals)


def edge_angles(tool: Edges, way: Floats) -> tuple[Floats, Floats]:
    """For each direction of feed (rows of unit vectors): the angle between it and the edge that leads, and the flattest angle at which an edge
    stands to the surface that is left, before or behind the nose; radians.

    Where no edge leads, only the nose cuts: the first is pi. Where both do (a plunge), it is the one that stands more square, and no
    nose leaves the surface: the second is NaN.
    """
    count = len(way)
    if tool.kind != "insert":
        square = np.full(count, tool.point if tool.kind == "drill" else pi if tool.kind == "round" else pi / 2)
        return square, np.full(count, pi / 2 if tool.kind == "round" else np.nan)
    leads, angles = [], []
    for edge, normal in zip(tool.edges, tool.normals, strict=True):
        leads.append(way @ np.array(normal) > _LEADS)
        angles.append(np.arccos(np.clip(way @ np.array(edge), -1, 1)))
    both, none = leads[0] & leads[1], ~leads[0] & ~leads[1]
    squarer = np.where(np.abs(angles[0] - pi / 2) < np.abs(angles[1] - pi / 2), angles[0], angles[1])
    ahead = np.where(both, squarer, np.where(none, pi, np.where(leads[0], angles[0], angles[1])))
    behind = pi - np.where(leads[0], angles[1], angles[0])
    flattest = np.minimum(np.minimum(ahead, behind), pi / 2)
    return np.asarray(ahead, np.float64), np.asarray(np.where(both, np.nan, flattest), np.float64)


def edge_in_cut(depth: Floats, nose: Floats, angle: Floats) -> Floats:
    """The length in mm of the edge that is in the material at a depth: first round the nose, then along the straight edge at `angle` (radians).

    Without a nose it is depth / sin(angle), the handbook's width of swarf; the mean thickness of the swarf is its section over it.
    """
    safe = np.where(nose > 0, nose, 1.0)
    top = np.where(nose > 0, nose * (1 - np.cos(angle)), 0.0)
    round_nose = np.where(nose > 0, nose * np.arccos(np.clip(1 - np.minimum(depth, top) / safe, -1, 1)), 0.0)
    lean = np.sin(angle)
    straight = np.maximum(depth - top, 0.0)
    return np.asarray(round_nose + np.where(lean > 1e-6, straight / np.where(lean > 1e-6, lean, 1.0), straight))
