"""A page of a drawing that is no path: its frame, its words to a screen reader, and lines of text below one another."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from verifier.report.picture import paper
from verifier.report.picture.paper import Window, element, line, page, text
from verifier.report.picture.plan import EDGE, WIDTH
from verifier.report.picture.scene import Point

LINE = 17.0
"""From one line of text to the next."""


def drawing(content: str, height: float, title: str, described: str) -> str:
    """The whole page as SVG."""
    named = element("title", escape(title), id="drawing-title") + element("desc", escape(described), id="drawing-words")
    zone = element(
        "pattern", element("path", d="M0 6L6 0", stroke=paper.ZONE, stroke_width=0.8), id="zone", width=6, height=6,
        patternUnits="userSpaceOnUse",
    )  # fmt: skip
    back = element("rect", width=page(WIDTH), height=page(height), fill="#ffffff")
    head = text((EDGE, 26), title, size=15, weight="bold")
    return element(
        "svg", named + element("defs", zone) + back + head + content, xmlns="http://www.w3.org/2000/svg", role="img",
        aria_labelledby="drawing-title drawing-words", viewBox=f"0 0 {page(WIDTH)} {page(height)}", width=page(WIDTH),
        height=page(height), font_family=paper.FONT,
    )  # fmt: skip


def lines_of(
    words: Iterable[str], left: float, top: float, *, fill: str = paper.INK, size: float = 11
) -> tuple[str, float]:
    """Lines of text below one another; beside them the place below the last."""
    parts = []
    for said in words:
        parts.append(text((left, top), said, size=size, fill=fill))
        top += LINE * size / 11
    return "".join(parts), top


def folded(words: str, most: int) -> list[str]:
    """A sentence in lines of at most so many characters."""
    found = [""]
    for word in words.split():
        if found[-1] and len(found[-1]) + len(word) >= most:
            found.append("")
        found[-1] = f"{found[-1]} {word}".strip()
    return found


def cross(at: Point, size: float = 7) -> str:
    """A programmed point: a thin cross."""
    (x, y), ink = at, {"stroke": paper.INK, "stroke_width": 0.9}
    return line((x - size, y), (x + size, y), **ink) + line((x, y - size), (x, y + size), **ink)


def origin(at: Point) -> str:
    """A zero point: a ring with two of its quarters filled."""
    x, y = at
    ring = element("circle", cx=page(x), cy=page(y), r=7, fill=paper.PAPER, stroke=paper.INK, stroke_width=1.2)
    quarters = element(
        "path", d=f"M{page(x)} {page(y)}h7a7 7 0 0 0 -7 -7zM{page(x)} {page(y)}h-7a7 7 0 0 0 7 7z", fill=paper.INK
    )
    return ring + quarters + cross(at, 11)


def scale_bar(window: Window, at: Point) -> str:
    """A bar of a round length in mm, with its words."""
    length = paper.round_step((window.high[0] - window.low[0]) / 2, 2)
    wide = length * window.scale
    ends = "".join(
        line((x, at[1] - 3), (x, at[1] + 3), stroke=paper.INK, stroke_width=1) for x in (at[0], at[0] + wide)
    )
    bar = line(at, (at[0] + wide, at[1]), stroke=paper.INK, stroke_width=1)
    return bar + ends + text((at[0] + wide + 6, at[1] + 3.5), f"{paper.plain(length)} mm", size=10)
