"""From millimetres to the page: a window of the plane, its place on the page, round steps for its scales, and SVG elements as text."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape
from itertools import groupby, pairwise
from math import ceil, floor, log10

from verifier.report.picture.scene import Point

INK, PAPER, FAINT = "#22282c", "#fffdf8", "#8d9296"
OLD, NEW, ZONE, STOCK = "#7a5c43", "#0b7a75", "#5b5f63", "#efe9dc"
FONT = "DejaVu Sans, Liberation Sans, Arial, sans-serif"


@dataclass(frozen=True, slots=True)
class Window:
    """A part of the plane in mm, drawn to one scale at a place on the page (page units, y downward)."""

    low: Point
    high: Point
    left: float
    top: float
    scale: float

    @property
    def width(self) -> float:
        """On the page."""
        return (self.high[0] - self.low[0]) * self.scale

    @property
    def height(self) -> float:
        """On the page."""
        return (self.high[1] - self.low[1]) * self.scale

    def at(self, point: Point) -> Point:
        """A point of the plane on the page."""
        return self.left + (point[0] - self.low[0]) * self.scale, self.top + (self.high[1] - point[1]) * self.scale


def fitted(low: Point, high: Point, left: float, top: float, width: float, height: float) -> Window:
    """The window that shows all between two corners in a rectangle of the page at most so large; it keeps the scale of both axes alike."""
    across, up = max(high[0] - low[0], 1e-6), max(high[1] - low[1], 1e-6)
    scale = min(width / across, height / up)
    spare = (width / scale - across) / 2
    return Window((low[0] - spare, low[1]), (high[0] + spare, high[1]), left, top, scale)


def round_step(span: float, most: int) -> float:
    """The smallest of 1, 2, 5 times a power of ten that divides a span in at most so many parts."""
    rough = span / max(most, 1)
    power = 10.0 ** floor(log10(rough)) if rough > 0 else 1.0
    return next(step * power for step in (1.0, 2.0, 5.0, 10.0) if step * power >= rough * (1 - 1e-9))


def ticks(low: float, high: float, most: int) -> list[float]:
    """Round values between two ends."""
    step = round_step(high - low, most)
    return [k * step for k in range(ceil(low / step - 1e-9), floor(high / step + 1e-9) + 1)]


def plain(value: float) -> str:
    """A number as short as it is true to four decimals."""
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def page(value: float) -> str:
    """A page coordinate."""
    text = f"{value:.1f}"
    return text.removesuffix(".0")


# -- elements -----------------------------------------------------------------------------------------------------------


def element(name: str, content: str = "", /, **attributes: object) -> str:
    """An element; an underscore in the name of an attribute is a hyphen. Everything is escaped but the content."""
    words = "".join(f' {key.rstrip("_").replace("_", "-")}="{escape(str(value))}"' for key, value in attributes.items())
    return f"<{name}{words}>{content}</{name}>" if content else f"<{name}{words}/>"


def text(
    at: Point,
    words: str,
    *,
    size: float = 11,
    anchor: str = "start",
    fill: str = INK,
    weight: str = "normal",
    halo: bool = False,
) -> str:
    """Words on the page; with a halo where lines pass behind them."""
    more: dict[str, object] = (
        {"stroke": PAPER, "stroke_width": 3, "paint_order": "stroke", "stroke_linejoin": "round"} if halo else {}
    )
    return element(
        "text", escape(words), x=page(at[0]), y=page(at[1]), font_size=size, text_anchor=anchor, fill=fill,
        font_weight=weight, **more,
    )  # fmt: skip


def rectangle(left: float, top: float, width: float, height: float, **attributes: object) -> str:
    """A rectangle."""
    return element("rect", x=page(left), y=page(top), width=page(width), height=page(height), **attributes)


def line(start: Point, end: Point, **attributes: object) -> str:
    """A straight line."""
    return element("line", x1=page(start[0]), y1=page(start[1]), x2=page(end[0]), y2=page(end[1]), **attributes)


def outline(points: Iterable[Point]) -> str:
    """The `d` of a closed path."""
    return path(list(points)) + "Z"


def path(points: Sequence[Sequence[float]]) -> str:
    """The `d` of an open path; points that fall on one another on the page are drawn once."""
    return paths([points])[0]


def paths(lines: Sequence[Sequence[Sequence[float]]]) -> list[str]:
    """The `d` of each of these lines, as `path`. All numbers are written at once."""
    numbers = [value for points in lines for point in points for value in point]
    form = "M".join("L".join(["%.1f %.1f"] * len(points)) for points in lines)
    shown = f"{form % tuple(numbers)}M".replace(".0 ", " ").replace(".0L", "L").replace(".0M", "M")[:-1]
    found = []
    for text in shown.split("M") if lines else ():
        points = [point for point, _ in groupby(text.split("L"))]
        found.append("M" + "L".join(points * 2 if len(points) == 1 else points))
    return found


def clipped(points: Sequence[Point], window: Window) -> list[list[Point]]:
    """The parts of a line that lie in a window, with a little over at the edge; in the plane."""
    pad = 0.02 * (window.high[0] - window.low[0])
    low, high = (window.low[0] - pad, window.low[1] - pad), (window.high[0] + pad, window.high[1] + pad)
    zs, xs = zip(*points, strict=True)
    least, most = (min(zs), min(xs)), (max(zs), max(xs))
    if most[0] < low[0] or most[1] < low[1] or least[0] > high[0] or least[1] > high[1]:
        return []
    if low[0] <= least[0] and low[1] <= least[1] and most[0] <= high[0] and most[1] <= high[1] and len(points) > 1:
        return [list(points)]
    found: list[list[Point]] = []
    for start, end in pairwise(points):
        part = _inside(start, end, low, high)
        if part is None:
            continue
        if found and found[-1][-1] == part[0]:
            found[-1].append(part[1])
        else:
            found.append([part[0], part[1]])
    return found


def _inside(start: Point, end: Point, low: Point, high: Point) -> tuple[Point, Point] | None:
    """What of a straight piece lies in a rectangle (cut parametrically at its four sides)."""
    first, last = 0.0, 1.0
    for axis in (0, 1):
        way = end[axis] - start[axis]
        if way == 0:
            if not low[axis] <= start[axis] <= high[axis]:
                return None
            continue
        near, far = sorted(((low[axis] - start[axis]) / way, (high[axis] - start[axis]) / way))
        first, last = max(first, near), min(last, far)
    if first > last:
        return None

    def along(t: float) -> Point:
        if t in (0.0, 1.0):
            return end if t else start
        return start[0] + t * (end[0] - start[0]), start[1] + t * (end[1] - start[1])

    return along(first), along(last)
