"""The true outline of a tool in the half plane (Z, R), from what the setup sheet says of it; or in words why it has none.

Points are millimetres relative to the programmed point, +R away from the centre line, +Z away from the spindle. Edges that cut are convex
polygons that run anticlockwise; nose circles and corners are chords with their points on the circle, among them those where it touches a
cylinder or a face, so that both come out exact.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from math import acos, ceil, cos, pi, radians, sin, tan

import numpy as np
from numpy.typing import NDArray

from verifier.machines import CORNERS, TWO_LENGTHS, Tool

Points = NDArray[np.float64]

CHORD = 0.00025
"""How far a chord may leave its circle, in mm."""
_COARSE = 0.002
"""The same at the corners of an insert that are not its nose."""
_ENDLESS = 1000.0
_TIP = 1.0
_DEEPEST_THREAD = 50.0

NOSE: dict[int, tuple[int, int]] = {
    1: (1, 1),
    2: (-1, 1),
    3: (-1, -1),
    4: (1, -1),
    5: (1, 0),
    6: (0, 1),
    7: (-1, 0),
    8: (0, -1),
    9: (0, 0),
}
"""Where the programmed point lies, seen from the centre of the nose, by the orientation's number: along Z and along R."""


@dataclass(frozen=True, slots=True)
class ToolOutline:
    """`edge`: what cuts, a convex polygon. `bodies`: holder and shank, which must touch nothing. `missing`: what the sheet leaves open.

    `groove`: what a thread profile leaves free behind it, as far up as its flanks go on.
    """

    edge: Points
    bodies: tuple[Points, ...]
    missing: tuple[str, ...] = ()
    groove: Points | None = None


def nose_centre(tool: Tool) -> tuple[float, float] | None:
    """The centre of the nose in (Z, R) from the programmed point, mm; None where the sheet does not say enough, and for a blade's corner."""
    if (
        tool.kind not in ("turning", "boring")
        or tool.nose_radius is None
        or tool.orientation is None
        or tool.shape == "R"
    ):
        return None
    along, across = NOSE[tool.orientation]
    return -along * float(tool.nose_radius), -across * float(tool.nose_radius)


def works_inside(tool: Tool) -> bool:
    """Whether a tool works in a bore: a drill, or one whose nose looks away from the centre line."""
    return tool.kind == "drill" or (tool.orientation is not None and NOSE[tool.orientation][1] > 0)


def tool_outline(tool: Tool) -> ToolOutline | str:
    """The outline of a tool at its programmed point; text where the sheet does not say enough for one (nothing is invented)."""
    if tool.kind in ("turning", "boring"):
        edge = _insert(tool)
    elif tool.kind in ("grooving", "parting"):
        edge = _blade(tool)
    elif tool.kind == "drill":
        edge = _drill(tool)
    elif tool.kind == "threading":
        edge = _profile(tool)
    else:
        edge = f"the outline of a tool of kind {tool.kind} is not known"
    if isinstance(edge, str):
        return edge
    bodies = [np.array([(float(z), float(x)) for x, z in tool.holder])] if tool.holder else []
    shank = _shank(tool)
    if shank is not None:
        bodies.append(shank)
    groove = _profile(tool, _DEEPEST_THREAD) if tool.kind == "threading" else None
    return ToolOutline(
        edge, tuple(bodies), _missing(tool, bool(bodies)), groove if not isinstance(groove, str) else None
    )


def _missing(tool: Tool, has_body: bool) -> tuple[str, ...]:
    lacks = [] if has_body else ["its holder is not given: contacts of a holder or shank are not checked"]
    if tool.kind in ("grooving", "parting") and tool.blade_depth is None:
        lacks.append("its blade_depth is not given: the blade is taken to reach as deep as it goes")
    if tool.kind == "drill" and tool.flute_length is None:
        lacks.append("its flute_length is not given: how deep it may drill is not checked")
    if tool.kind == "threading":
        lacks.append(f"only the last {_TIP:g} mm of its profile are known: contacts above them are not checked")
    return tuple(lacks)


def _insert(tool: Tool) -> Points | str:
    absent = [key for key in ("shape", "edge_length", "nose_radius", "orientation") if getattr(tool, key) is None]
    if absent:
        return f"{' and '.join(absent)} not given"
    assert tool.shape and tool.edge_length and tool.nose_radius is not None and tool.orientation
    nose, size = float(tool.nose_radius), float(tool.edge_length)
    along, across = NOSE[tool.orientation]
    if tool.shape == "R":
        return _circle(size / 2) - np.array([along, across]) * size / 2
    if not along and not across:
        return "orientation 9 does not say which way the insert points"
    corner = CORNERS[tool.shape][0]
    if tool.approach_angle is not None:
        bisector = 180 - float(tool.approach_angle) - corner / 2
    elif along and across:
        return "approach_angle not given"
    else:
        bisector = 90.0 if across else 0.0
    edges = _edges(tool, size)
    if isinstance(edges, str):
        return edges
    points = _rounded(CORNERS[tool.shape], edges, nose, bisector)
    if points is None:
        return f"a nose radius of {nose:g} mm does not fit an edge of {size:g} mm"
    # Drawn with the nose toward -R and -Z; the other orientations are its mirror images.
    points = points + nose * np.array([abs(along), abs(across)])
    return _mirrored(points, flip_z=along > 0, flip_r=across > 0)


def _edges(tool: Tool, size: float) -> tuple[float, ...] | str:
    """The lengths of an insert's edges, going round from its cutting corner; text where the sheet does not say enough."""
    assert tool.shape
    corners = CORNERS[tool.shape]
    if tool.shape not in TWO_LENGTHS:
        return (size,) * len(corners)
    if tool.insert_width is None:
        return f"insert_width not given: the letters of shape {tool.shape} give only its long edge"
    if tool.approach_angle is None:
        return "approach_angle not given"
    # The long edge is the main one: it arrives at the cutting corner, the short one leaves it.
    short = float(tool.insert_width) / sin(radians(corners[0]))
    return short, size, short, size


def _rounded(corners: tuple[int, ...], edges: tuple[float, ...], nose: float, bisector: float) -> Points | None:
    """A polygon with rounded corners; the centre of its first corner's nose is at 0, 0, and it extends toward `bisector`."""
    halves = [tan(radians(angle / 2)) for angle in corners]
    if any(
        size * half * other < nose * (half + other)
        for size, half, other in zip(edges, halves, halves[1:] + halves[:1], strict=True)
    ):
        return None
    heading = bisector - corners[0] / 2
    away = nose / sin(radians(corners[0] / 2))
    at = -away * np.array([cos(radians(bisector)), sin(radians(bisector))])
    found = []
    for k, angle in enumerate(corners):
        into = heading
        if k:
            at = at + edges[k - 1] * np.array([cos(radians(into)), sin(radians(into))])
            heading = into + 180 - angle
        else:
            into = heading - 180 + angle
        middle = radians(heading + angle / 2)
        centre = at + nose / sin(radians(angle / 2)) * np.array([cos(middle), sin(middle)])
        chord = CHORD if k == 0 else _COARSE
        found.append(centre + arc_points(nose, radians(into - 90), radians(heading - 90), chord))
    return np.concatenate(found)


def arc_points(radius: float, first: float, last: float, chord: float = CHORD) -> Points:
    """Points on a circle about 0, 0 from one angle to a greater one (radians): chords within `chord` mm, and every quarter exactly."""
    if radius <= 0 or last <= first:
        return np.array([[radius * cos(first), radius * sin(first)]])
    quarter = pi / 2
    inner = [q * quarter for q in range(ceil(first / quarter - 1e-9), int(last // quarter) + 1)]
    stops = [first, *(a for a in inner if first + 1e-9 < a < last - 1e-9), last]
    step = 2 * acos(max(1 - chord / radius, -1.0))
    angles = [first]
    for one, other in itertools.pairwise(stops):
        angles += np.linspace(one, other, max(ceil((other - one) / step), 1) + 1)[1:].tolist()
    turned = np.array(angles)
    points = radius * np.stack((np.cos(turned), np.sin(turned)), 1)
    quarters = np.isclose(turned / quarter, np.round(turned / quarter), atol=1e-12)
    points[quarters] = radius * np.round(points[quarters] / radius)
    return np.asarray(points, np.float64)


def _circle(radius: float) -> Points:
    return arc_points(radius, 0, 2 * pi)[:-1]


def _mirrored(points: Points, *, flip_z: bool, flip_r: bool) -> Points:
    signs = np.array([-1.0 if flip_z else 1.0, -1.0 if flip_r else 1.0])
    turned = points * signs
    return np.asarray(turned[::-1] if flip_z != flip_r else turned, np.float64)


def _blade(tool: Tool) -> Points | str:
    if tool.blade_width is None or tool.orientation is None:
        return "blade_width or orientation not given"
    width, nose = float(tool.blade_width), float(tool.nose_radius or 0)
    depth = float(tool.blade_depth) if tool.blade_depth is not None else _ENDLESS
    along, across = NOSE[tool.orientation]
    if not along and not across:
        return "orientation 9 does not say which way the blade points"
    # Drawn as a blade that plunges toward -R with its corner toward -Z at 0, 0.
    left = np.array([nose, nose]) + arc_points(nose, pi, 1.5 * pi)
    right = np.array([width - nose, nose]) + arc_points(nose, 1.5 * pi, 2 * pi)
    points = np.concatenate((left, right, [[width, depth], [0.0, depth]]))
    if tool.plunges == "Z":
        points = points[::-1, ::-1]
        if not across:
            points = points - np.array([0, width / 2])
        return _mirrored(points, flip_z=along > 0, flip_r=across > 0)
    if not along:
        points = points - np.array([width / 2, 0])
    return _mirrored(points, flip_z=along > 0, flip_r=across > 0)


def _drill(tool: Tool) -> Points | str:
    if tool.diameter is None or tool.point_angle is None:
        return "diameter or point_angle not given"
    radius = float(tool.diameter) / 2
    point = radius / tan(radians(float(tool.point_angle) / 2)) if tool.point_angle < 180 else 0.0
    length = float(tool.flute_length) if tool.flute_length is not None else _ENDLESS
    if length <= point:
        return "flute_length is shorter than the point"
    points = np.array([(0.0, 0.0), (length, 0.0), (length, radius), (point, radius)])
    return _mirrored(points, flip_z=tool.orientation == 5, flip_r=False)


def _profile(tool: Tool, height: float = _TIP) -> Points | str:
    """A thread profile up to a height above its tip, set at its middle."""
    if tool.profile_angle is None or tool.orientation is None:
        return "profile_angle or orientation not given"
    if tool.orientation not in (6, 8):
        return "a thread profile is known only for orientation 6 or 8"
    nose, half = float(tool.nose_radius or 0), radians(float(tool.profile_angle) / 2)
    centre = np.array([0.0, nose])
    tip = centre + arc_points(nose, -pi + half, -half)
    rise = height - float(tip[-1, 1])
    wide = float(tip[-1, 0]) + rise * tan(half)
    points = np.concatenate((tip, [[wide, height], [-wide, height]])) if rise > 0 else tip
    return _mirrored(points, flip_z=False, flip_r=tool.orientation == 6)


def _shank(tool: Tool) -> Points | None:
    """The bar of a boring tool as seen from the side, in the plane of its edge: behind the tip, away from the wall that it bores."""
    if tool.kind != "boring" or tool.shank_diameter is None or tool.shank_axis is None or tool.reach is None:
        return None
    along, across = NOSE[tool.orientation or 9]
    if not across:
        return None
    low, high = (float(tool.shank_axis - sign * tool.shank_diameter / 2) for sign in (1, -1))
    start = float(tool.nose_radius or 0) * 2
    box = np.array([(start, low), (float(tool.reach), low), (float(tool.reach), high), (start, high)])
    return _mirrored(box, flip_z=along > 0, flip_r=across > 0)
