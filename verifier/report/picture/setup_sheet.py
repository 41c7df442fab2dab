"""A setup sheet as it was understood: raw piece, work-holding and zero point in the half plane, and each tool with its outline and its nose."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from html import escape

import numpy as np
import shapely
from numpy.typing import NDArray

from verifier.geometry import ToolOutline, nose_centre, stock_section, tool_outline, zone_section
from verifier.machines import Setup, Stock, Tool
from verifier.report.picture import paper
from verifier.report.picture.paper import element, fitted, page, rectangle, text
from verifier.report.picture.plan import EDGE, WIDTH, drawn
from verifier.report.picture.scene import Outline, Point, Scene, rings_of
from verifier.report.picture.sheet import cross, drawing, folded, lines_of, origin, scale_bar

_IN_A_ROW, _TALL, _GAP = 4, 268.0, 20.0
_WIDE = (WIDTH - 2 * EDGE - (_IN_A_ROW - 1) * _GAP) / _IN_A_ROW
_VIEW, _LINES = 130.0, 6
_AROUND = 45.0
"""Of a tool so many mm around its programmed point are drawn; of a long one as far as it is clear of its holder, and what holds it there."""
_SEEN_OF_HOLDER = 20.0
_NO_KNOWN_SIZE = "nothing that could be drawn: the sheet names neither a raw piece nor work-holding"


def picture_of_setup(setup: Setup) -> str:
    """The sheet as SVG. What it does not say is told in words, never drawn."""
    parts, low = _plane(setup)
    if setup.tools:
        parts += text(
            (EDGE, low + 6),
            "Tools by station, as seen with Z to the right; the cross is the programmed point",
            weight="bold",
        )
        low += 24
    for k, (station, tool) in enumerate(setup.tools.items()):
        at = EDGE + k % _IN_A_ROW * (_WIDE + _GAP), low + k // _IN_A_ROW * (_TALL + 14)
        parts += _tool(station, tool, at)
    low += -(-len(setup.tools) // _IN_A_ROW) * (_TALL + 14)
    return drawing(parts, low + 16, f"Setup sheet {setup.name}, as it was understood", ". ".join(_described(setup)))


# -- the plane ------------------------------------------------------------------------------------------------------------


def _plane(setup: Setup) -> tuple[str, float]:
    outlines = tuple(_outlines(setup))
    words = list(_facts(setup))
    if not outlines:
        said, low = lines_of([*words, _NO_KNOWN_SIZE], EDGE, 60)
        return said, low + 14
    corners = [point for one in outlines for point in one.corners]
    low_z, high_z = min(0.0, *(p[0] for p in corners)), max(0.0, *(p[0] for p in corners))
    top = max(p[1] for p in corners)
    pad = 0.06 * max(high_z - low_z, top)
    window = fitted((low_z - pad, -pad), (high_z + pad, top + pad), EDGE, 62, WIDTH - 2 * EDGE, 300)
    parts = drawn(Scene((), (), outlines, "mm", 0, False), window, "plane", ())
    for one in outlines:
        if one.kind == "keep-out":
            z, r = (sum(ends) / 2 for ends in _box(one))
            parts += text(window.at((z, r)), one.name, anchor="middle", weight="bold", halo=True)
    parts += origin(window.at((0, 0))) + text(
        (window.at((0, 0))[0] + 12, window.at((0, 0))[1] - 10), "X0 Z0", halo=True
    )
    spindle = text((window.left + 8, window.top + 16), "spindle this way", size=10, fill=paper.ZONE)
    said, below = lines_of(words, EDGE, window.top + window.height + 50)
    return parts + spindle + said, below + 14


def _box(one: Outline) -> tuple[tuple[float, float], tuple[float, float]]:
    z, r = zip(*one.corners, strict=True)
    return (min(z), max(z)), (min(r), max(r))


def _outlines(setup: Setup) -> Iterator[Outline]:
    if setup.stock is not None:
        yield Outline("raw-piece", "", rings_of(stock_section(setup.stock)))
    for zone in setup.work_holding.keep_out if setup.work_holding is not None else ():
        yield Outline("keep-out", zone.name, rings_of(zone_section(zone)))


def _facts(setup: Setup) -> Iterator[str]:
    yield f"Raw piece: {_stock(setup.stock)}"
    held = setup.work_holding
    if held is None:
        yield "Work-holding: not given"
    else:
        grip = f", grips the {held.grips}" if held.grips else ""
        limit = f", {_mm(held.max_rpm)} rev/min at most" if held.max_rpm is not None else ", no speed limit given"
        zones = (
            f"; keep-out: {', '.join(zone.name for zone in held.keep_out)}" if held.keep_out else "; no keep-out given"
        )
        yield f"Work-holding: {held.kind}{grip}{limit}{zones}"
    for code, axes in setup.work_offsets.items():
        places = ", ".join(f"{letter} {_mm(place)}" for letter, place in axes.items())
        yield f"{code}: X0 Z0 stands at machine position {places} mm"
    if not setup.work_offsets:
        yield "Work offsets: not given"
    yield f"Turret: {_turret(setup)}"
    if setup.limits:
        yield f"Drawing limits: {len(setup.limits)}, on " + ", ".join(
            f"{one.axis} {_mm(one.nominal)}" for one in setup.limits[:12]
        )


def _stock(stock: Stock | None) -> str:
    if stock is None:
        return "not given"
    across = f"diameter {_mm(stock.diameter)}" + (f", bore {_mm(stock.inner)}" if stock.inner is not None else "")
    what = f"{stock.kind}, {across}, length {_mm(stock.length)}, front face at Z {_mm(stock.face_z)} mm"
    if stock.came_from is not None:
        doubts = len(stock.came_from.doubts) + len(stock.came_from.uncertain)
        what += f"; left by {stock.came_from.program}" + (
            f" ({doubts} things about it are not certain)" if doubts else ""
        )
    return what


def _turret(setup: Setup) -> str:
    if setup.turret is None:
        return "not given: neighbours and the swing of an index are not checked"
    ring = f", ring of radius {_mm(setup.turret.swing_radius)} mm" if setup.turret.swing_radius is not None else ""
    return f"{setup.turret.stations} stations{ring}"


def _mm(value: Fraction | None) -> str:
    return paper.plain(float(value)) if value is not None else "not given"


# -- tools ------------------------------------------------------------------------------------------------------------


def _tool(station: int, tool: Tool, at: Point) -> str:
    left, top = at
    frame = rectangle(left, top, _WIDE, _TALL, fill=paper.PAPER, stroke=paper.FAINT, stroke_width=0.6)
    head = text((left + 8, top + 17), f"T{station}", size=13, weight="bold") + text((left + 44, top + 17), tool.kind)
    outline = tool_outline(tool)
    parts = frame + head
    said = [*_measures(tool)]
    if isinstance(outline, str):
        parts += lines_of(folded(f"not drawn: {outline}", 30), left + 12, top + 60, fill=paper.ZONE)[0]
    else:
        parts += _shape(tool, outline, (left + 6, top + 26))
        said += [_short(lack) for lack in outline.missing]
    folded_lines = [part for words in said for part in folded(words, 32)]
    return parts + lines_of(folded_lines[:_LINES], left + 8, top + _VIEW + 52, size=10)[0]


def _short(lack: str) -> str:
    """What a sheet leaves open, as short as a card has room for: the words before the consequence."""
    return lack.split(":")[0].removeprefix("its ")


def _shape(tool: Tool, outline: ToolOutline, at: Point) -> str:
    clear = [float(long) + _SEEN_OF_HOLDER for long in (tool.flute_length, tool.reach) if long is not None]
    around = max(_AROUND, *clear) if clear else _AROUND
    near = shapely.box(-around, -around, around, around)
    shapes = [(shapely.make_valid(shapely.polygons(body)), "body") for body in outline.bodies]
    # A drill is known by the half of it that lies off the centre line.
    if tool.kind == "drill":
        shapes = [(shapely.union_all([half, shapely.transform(half, _turned_over)]), kind) for half, kind in shapes]
    edge = np.concatenate((outline.edge, _turned_over(outline.edge))) if tool.kind == "drill" else outline.edge
    shapes.append((shapely.convex_hull(shapely.multipoints(edge)), "edge"))
    seen = [(shapely.intersection(shape, near), kind) for shape, kind in shapes]
    z0, r0, z1, r1 = shapely.total_bounds([shape for shape, _ in seen] + [shapely.Point(0, 0)]).tolist()
    pad = 0.12 * max(z1 - z0, r1 - r0)
    window = fitted((z0 - pad, r0 - pad), (z1 + pad, r1 + pad), *at, _WIDE - 12, _VIEW)
    parts = ""
    for shape, kind in seen:
        look = (
            {"fill": "url(#zone)", "stroke": paper.ZONE}
            if kind == "body"
            else {"fill": paper.STOCK, "stroke": paper.INK}
        )
        words = "holder or shank, must touch nothing" if kind == "body" else "what cuts"
        d = "".join(paper.outline(window.at(point) for point in ring) for ring in rings_of(shape))
        parts += element("path", element("title", escape(f"T{tool.station}: {words}")), d=d, stroke_width=1.1, **look)
    centre = nose_centre(tool)
    if centre is not None and tool.nose_radius:
        x, y = window.at(centre)
        radius = max(float(tool.nose_radius) * window.scale, 1.0)
        ring = {"fill": "none", "stroke": paper.NEW, "stroke_width": 1.6, "stroke_dasharray": "3 2"}
        parts += element("circle", element("title", "nose"), cx=page(x), cy=page(y), r=page(radius), **ring)
    return parts + cross(window.at((0.0, 0.0))) + scale_bar(window, (at[0] + 8, at[1] + _VIEW + 2))


def _turned_over(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """The other half of something round about the centre line."""
    return np.asarray(points * np.array([1.0, -1.0]), np.float64)


def _measures(tool: Tool) -> Iterator[str]:
    """The measures that the sheet gives, in a few lines."""
    if tool.insert or tool.shape:
        yield tool.insert or f"insert of shape {tool.shape}, edge {_mm(tool.edge_length)}"
    told = (
        ("nose", tool.nose_radius), ("at", tool.approach_angle), ("width", tool.blade_width), ("diameter", tool.diameter),
        ("point", tool.point_angle), ("flute", tool.flute_length), ("profile", tool.profile_angle), ("shank", tool.shank_diameter),
        ("reach", tool.reach),
    )  # fmt: skip
    degrees = ("at", "point", "profile")
    words = [f"{name} {_mm(value)}" + ("°" if name in degrees else "") for name, value in told if value is not None]
    if tool.orientation is not None:
        words.append(f"orientation {tool.orientation}")
    if words:
        yield ", ".join(words)
    if tool.hand or tool.mounted:
        yield ", ".join(word for word in (f"{tool.hand} hand" if tool.hand else "", tool.mounted or "") if word)


def _described(setup: Setup) -> Iterator[str]:
    """The drawing in words."""
    yield "Half section of the lathe: Z to the right, diameters upward"
    yield from _facts(setup)
    for station, tool in setup.tools.items():
        outline = tool_outline(tool)
        missing = [outline] if isinstance(outline, str) else list(outline.missing)
        lacks = f" (not known: {'; '.join(missing)})" if missing else ""
        yield f"T{station}: {tool.kind}, {', '.join(_measures(tool)) or 'no measures'}{lacks}"
