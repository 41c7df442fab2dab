"""The drawing of the path in the plane: the whole, and windows around the places that an edit changes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from html import escape

from verifier.findings import Box
from verifier.report.picture import paper
from verifier.report.picture.met import Met
from verifier.report.picture.paper import Window, clipped, element, fitted, line, page, paths, plain, rectangle, text
from verifier.report.picture.scene import Look, Mark, Outline, Point, Scene, Stretch

WIDTH, EDGE = 960.0, 52.0
_TALLEST, _LEAST = 430.0, 120.0
_SMALL = 0.7
"""A place whose window would take more than this part of the whole in both directions is seen well enough there."""
_STILL_READ = 1.6
"""The main drawing is made so many times as large as its cuts at most, for what is met beside them."""
_NEAREST = 0.06
"""At least so much of the height of the whole stands around a place in its window; more where something is met, for the tool."""
_NEAR_MET = 0.16
_BESIDE, _CLOSE = 0.6, 0.3
"""And so much of the place's own size."""
_MM_PER_INCH = 25.4

LINES: dict[tuple[Look, bool], dict[str, object]] = {
    (Look.BOTH, False): {"stroke": paper.INK, "stroke_width": 0.9},
    (Look.OTHER, False): {"stroke": paper.NEW, "stroke_width": 2.2, "stroke_opacity": 0.55, "stroke_dasharray": "13 3"},
    (Look.OLD, False): {"stroke": paper.OLD, "stroke_width": 4.5, "stroke_dasharray": "1.1 2.6"},
    (Look.NEW, False): {"stroke": paper.NEW, "stroke_width": 2.4},
    (Look.BOTH, True): {"stroke": paper.FAINT, "stroke_width": 0.8, "stroke_dasharray": "0.8 3.2", "stroke_linecap": "round"},
    (Look.OTHER, True): {"stroke": paper.NEW, "stroke_width": 1.2, "stroke_dasharray": "4 3 0.8 3", "stroke_linecap": "round"},
    (Look.OLD, True): {"stroke": paper.OLD, "stroke_width": 2.6, "stroke_dasharray": "0.8 4.2"},
    (Look.NEW, True): {"stroke": paper.NEW, "stroke_width": 1.8, "stroke_dasharray": "0.8 4", "stroke_linecap": "round"},
}  # fmt: skip
"""How each stretch is drawn: the base hatched, the revision solid, what both share thin (in long dashes where its values differ), rapids dotted."""

FILLS: dict[str, dict[str, object]] = {
    "stock": {"fill": "none", "stroke": paper.ZONE, "stroke_width": 0.8, "stroke_dasharray": "5 3"},
    "raw-piece": {"fill": paper.STOCK, "stroke": paper.INK, "stroke_width": 1},
    "keep-out": {"fill": "url(#zone)", "stroke": paper.ZONE, "stroke_width": 1},
    "part": {"fill": paper.STOCK, "stroke": paper.FAINT, "stroke_width": 0.6},
    "only-before": {"fill": "url(#before)", "stroke": paper.OLD, "stroke_width": 0.8},
    "only-now": {"fill": paper.NEW, "fill_opacity": 0.35, "stroke": paper.NEW, "stroke_width": 0.8},
}
TOOL: dict[str, object] = {"fill": paper.FAINT, "fill_opacity": 0.3, "stroke": paper.INK, "stroke_width": 1.1}
MET: dict[str, object] = {"stroke": paper.INK, "stroke_width": 1.8}
_SEEN = 9.0
"""A place where something is met is drawn so large at least, on the page."""
AREAS = {
    "stock": "raw piece",
    "raw-piece": "raw piece",
    "keep-out": "keep-out zone",
    "part": "what is left of it",
    "only-before": "left standing by the base only",
    "only-now": "left standing by the revision only",
}
"""What the areas are, in words."""

WORDS = {
    Look.BOTH: "base and revision alike",
    Look.OTHER: "alike, with other values",
    Look.OLD: "base only",
    Look.NEW: "revision only",
}
_ORDER = (Look.BOTH, Look.OTHER, Look.OLD, Look.NEW)


def whole(scene: Scene, met: Sequence[Met] = ()) -> Window:
    """The window of the main drawing: all cuts, what is met near them, and a margin; never wider than the page or taller than its share of it."""
    points = [p for s in scene.stretches if not s.rapid for p in s.points]
    points = points or [p for s in scene.stretches for p in s.points] or [(0.0, 0.0), (1.0, 1.0)]
    low = min(p[0] for p in points), min(0.0, *(p[1] for p in points))
    high = max(p[0] for p in points), max(p[1] for p in points)
    low, high = _with_near(low, high, met)
    pad = 0.05 * max(high[0] - low[0], high[1] - low[1], 1e-3)
    # Of what stands behind the cuts (stock in the chuck) a little is shown.
    behind = min((p[0] for o in scene.outlines if o.kind in ("stock", "keep-out") for p in o.corners), default=low[0])
    low = max(min(behind, low[0]), low[0] - 6 * pad) - pad, low[1] - 0.6 * pad
    high = high[0] + 2 * pad, high[1] + pad
    wide = WIDTH - 2 * EDGE
    return fitted(low, high, EDGE, 30, wide, min(_TALLEST, max(_LEAST, wide * (high[1] - low[1]) / (high[0] - low[0]))))


def _with_near(low: Point, high: Point, met: Sequence[Met]) -> tuple[Point, Point]:
    """Two corners moved apart so that they hold what is met, as far as the cuts stay large enough to be read."""
    for z0, z1, r0, r1 in (one.box for one in met):
        wider = (min(low[0], z0), min(low[1], r0)), (max(high[0], z1), max(high[1], r1))
        if all(wider[1][k] - wider[0][k] <= _STILL_READ * max(high[k] - low[k], 1e-3) for k in (0, 1)):
            low, high = wider
    return low, high


def zooms(
    scene: Scene, main: Window, top: float, arounds: Mapping[int, Box], met: Sequence[Met] = ()
) -> list[tuple[int, Window]]:
    """A window for each card whose place is small beside the whole, two in a row below one another; by the cards' numbers.

    A card that tells of something met always has one: only there the tool is drawn.
    """
    meeting = {one.number for one in met}
    across, up = main.high[0] - main.low[0], main.high[1] - main.low[1]
    wide, tall, gap = (WIDTH - 3 * EDGE) / 2, 190.0, 46.0
    found: list[tuple[int, Window]] = []
    for number, box in sorted(arounds.items()):
        beside, least = (_CLOSE, _NEAR_MET) if number in meeting else (_BESIDE, _NEAREST)
        low, high = _framed(box, wide / tall, beside, max(least * up, 1e-3))
        if number not in meeting and high[0] - low[0] > _SMALL * across and high[1] - low[1] > _SMALL * up:
            continue
        left = EDGE + len(found) % 2 * (wide + EDGE)
        window = fitted(low, high, left, top + len(found) // 2 * (tall + gap), wide, tall)
        found.append((number, window))
    return found


def _framed(box: Box, shape: float, beside: float, least: float) -> tuple[Point, Point]:
    """The corners of a frame of a given shape (width to height) around a box, with what stands around it."""
    z0, z1, r0, r1 = box
    pad = max(beside * max(z1 - z0, r1 - r0), least)
    wide, tall = z1 - z0 + 2 * pad, r1 - r0 + 2 * pad
    wide, tall = max(wide, shape * tall), max(tall, wide / shape)
    # Little is to be seen below the centre line.
    middle = (z0 + z1) / 2, max((r0 + r1) / 2, 0.45 * tall)
    return (middle[0] - wide / 2, middle[1] - tall / 2), (middle[0] + wide / 2, middle[1] + tall / 2)


def drawn(
    scene: Scene, window: Window, name: str, marks: Sequence[Mark], met: Sequence[Met] = (), *, named: bool = True
) -> str:
    """Everything of a scene that lies in a window, with scales at its left and lower edge (`named`: with the names of the axes).

    A window that is not named is one of a single card, and has the tool where it meets something.
    """
    place = window.left, window.top, window.width, window.height
    frame = rectangle(*place, fill=paper.PAPER, stroke=paper.FAINT, stroke_width=0.6)
    clip = element("clipPath", rectangle(*place), id=name)
    tools = _tools(met, window) if not named else ()
    lines = _outlines(scene.outlines, window), tools, (_centre_line(window),), _paths(scene.stretches, window)
    inside = "".join(part for parts in (*lines, _met(met, window)) for part in parts)
    return clip + frame + element("g", inside, clip_path=f"url(#{name})", fill="none") + "".join(
        (*_scales(window, scene.units, named=named), *_marks(marks, window))
    )  # fmt: skip


def _outlines(outlines: Iterable[Outline], window: Window) -> Iterator[str]:
    for one in outlines:
        d = "".join(paper.outline(window.at(p) for p in ring) for ring in one.rings)
        words = AREAS[one.kind] + f": {one.name}" * bool(one.name)
        yield element("path", element("title", escape(words)), d=d, fill_rule="evenodd", **FILLS[one.kind])


def _tools(met: Iterable[Met], window: Window) -> Iterator[str]:
    """The tool as it stands where it meets something first told: more of them would cover one another."""
    for one in [one for one in met if one.tool][:1]:
        d = "".join(paper.outline(window.at(p) for p in ring) for ring in one.tool)
        yield element("path", element("title", escape(f"the tool: {one.title}")), d=d, fill_rule="evenodd", **TOOL)


def _met(met: Iterable[Met], window: Window) -> Iterator[str]:
    """The places where something is met: the box, at least so large that it is seen, with a cross in it."""
    for one in met:
        z0, z1, r0, r1 = one.box
        (left, top), (right, bottom) = window.at((z0, r1)), window.at((z1, r0))
        x, y = (left + right) / 2, (top + bottom) / 2
        wide, tall = max(right - left, _SEEN), max(bottom - top, _SEEN)
        half = _SEEN / 2
        arms = (line((x - half, y + k * half), (x + half, y - k * half), **MET) for k in (1, -1))
        box = rectangle(x - wide / 2, y - tall / 2, wide, tall, fill="none", **MET)
        yield element("g", element("title", escape(f"{one.number}: {one.title}")) + box + "".join(arms))


def _centre_line(window: Window) -> str:
    if not window.low[1] <= 0 <= window.high[1]:
        return ""
    y = window.at((0, 0))[1]
    return line(
        (window.left, y),
        (window.left + window.width, y),
        stroke=paper.INK,
        stroke_width=0.7,
        stroke_dasharray="14 3 2 3",
    )


def _paths(stretches: Sequence[Stretch], window: Window) -> Iterator[str]:
    """Rapids below cuts, what is shared below what differs; one element for all stretches of a sequence that look alike."""
    for rapid in (True, False):
        for look in _ORDER:
            of_label: dict[str, list[list[Point]]] = {}
            for one in stretches:
                if one.rapid is rapid and one.look is look:
                    parts = of_label.setdefault(one.label, [])
                    parts += ([window.at(point) for point in part] for part in clipped(one.points, window))
            for label, parts in of_label.items():
                if parts:
                    drawn_parts = paths(parts)
                    words = f"{label}: " * bool(label) + ("rapids" if rapid else "cuts") + f", {WORDS[look]}"
                    arrow = {"marker_end": f"url(#tip-{look.name.lower()})"} if rapid else {}
                    title = element("title", escape(words))
                    joined: Iterable[str] = drawn_parts if rapid else ("".join(drawn_parts),)
                    lines = "".join(element("path", d=d, **arrow) for d in joined)
                    yield element("g", title + lines, **LINES[look, rapid])


def _scales(window: Window, units: str, *, named: bool) -> Iterator[str]:
    """Z along the lower edge, diameters along the left one, in the program's unit."""
    unit = _MM_PER_INCH if units == "inch" else 1.0
    bottom = window.top + window.height
    for z in paper.ticks(window.low[0] / unit, window.high[0] / unit, max(2, int(window.width // 90))):
        x, _ = window.at((z * unit, 0))
        yield line((x, bottom), (x, bottom + 4), stroke=paper.INK, stroke_width=0.7)
        yield text((x, bottom + 15), plain(z), size=10, anchor="middle")
    for d in paper.ticks(2 * window.low[1] / unit, 2 * window.high[1] / unit, max(2, int(window.height // 40))):
        _, y = window.at((0, d * unit / 2))
        yield line((window.left - 4, y), (window.left, y), stroke=paper.INK, stroke_width=0.7)
        yield text((window.left - 7, y + 3.5), plain(d), size=10, anchor="end")
    if not named:
        return
    yield text(
        (window.left + window.width, bottom + 28),
        f"Z in {'in' if units == 'inch' else 'mm'}",
        size=10,
        anchor="end",
        fill=paper.ZONE,
    )
    yield text((window.left - 44, window.top - 8), "X, diameter", size=10, fill=paper.ZONE)


def _marks(marks: Iterable[Mark], window: Window) -> Iterator[str]:
    """A number in a ring beside each change, with a line to its place; rings that would cover one another move aside."""
    taken: list[Point] = []
    for mark in marks:
        at = window.at(mark.at)
        if not (
            window.left <= at[0] <= window.left + window.width and window.top <= at[1] <= window.top + window.height
        ):
            continue
        ring = _free(at, taken, window)
        taken.append(ring)
        yield line(at, ring, stroke=paper.INK, stroke_width=0.8)
        yield element("circle", cx=page(at[0]), cy=page(at[1]), r=2.2, fill=paper.INK)
        yield element(
            "circle", cx=page(ring[0]), cy=page(ring[1]), r=10, fill=paper.PAPER, stroke=paper.INK, stroke_width=1.4
        )
        yield text((ring[0], ring[1] + 4), str(mark.number), size=11, anchor="middle", weight="bold")


def _free(at: Point, taken: Sequence[Point], window: Window) -> Point:
    """A place for a ring near its mark, inside the window, that no other ring covers."""
    steps = [(18 * (1 + k // 8), k % 8) for k in range(48)]
    turns = ((1, -1), (-1, -1), (1, 1), (-1, 1), (0, -1.5), (1.5, 0), (-1.5, 0), (0, 1.5))
    for far, turn in steps:
        ring = at[0] + far * turns[turn][0], at[1] + far * turns[turn][1]
        inside = (
            window.left + 11 < ring[0] < window.left + window.width - 11
            and window.top + 11 < ring[1] < window.top + window.height - 11
        )
        if inside and all((ring[0] - o[0]) ** 2 + (ring[1] - o[1]) ** 2 > 23**2 for o in taken):
            return ring
    return at
