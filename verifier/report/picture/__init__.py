"""One picture of what an edit does to the path: drawn by the server, crisp in print, told in words to a screen reader.

The base is hatched grey-brown, the revision solid teal, what both share thin ink, rapids dotted: never told by colour alone.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from html import escape

from verifier.compare import Side
from verifier.findings import Box, Finding
from verifier.findings.view import ChangeView
from verifier.report.cards import card_numbers
from verifier.report.change_report import Card
from verifier.report.collecting import no_collection
from verifier.report.picture import paper
from verifier.report.picture.met import Met, meetings
from verifier.report.picture.paper import Window, element, line, page, rectangle, text
from verifier.report.picture.plan import AREAS, EDGE, FILLS, LINES, MET, TOOL, WIDTH, WORDS, drawn, whole, zooms
from verifier.report.picture.scene import Look, Scene, scene_of_change, scene_of_program
from verifier.report.picture.sheet import folded
from verifier.report.picture.strips import course_of, differ, has_power, strips

_LISTED = 9
_LONG = 128
"""So many characters of a sentence have room beside its number."""
_MET_OF_ONE = 3
_OF_BLOCK = 52
"""So many characters of a changed block are shown."""


@no_collection()
def picture_of_change(change: ChangeView, cards: Sequence[Card], findings: Sequence[Finding]) -> str:
    """The picture of a change as SVG: the path, windows around what differs, the cards' first lines, and strips along time."""
    numbers = card_numbers(change.comparison, cards, findings)
    told = [(k, findings[card.findings[0]].title) for k, card in enumerate(cards, 1) if card.findings]
    scene = scene_of_change(change, numbers)
    met = meetings(findings, numbers, change.comparison.new)
    told = [row for number, title in told for row in _with_met(number, title, met)]
    places = {number: card.around for number, card in enumerate(cards, 1) if card.around is not None}
    words = {number: text_ for number, card in enumerate(cards, 1) if (text_ := _edited(card))}
    return _picture(scene, told, change.comparison.old, change.comparison.new, places, met, words)


def _edited(card: Card) -> str:
    """The first block of an edit before and after, how many more there are, and in how many other places it is made alike."""
    (before, gone), (after, come) = _blocks(card.old), _blocks(card.new)
    if not before and not after:
        return ""
    line_of = f"line {card.places[0].line}: " if card.places else ""
    more = f", and {max(gone, come)} more" if max(gone, come) > 0 else ""
    alike = f", alike in {card.count} places" if card.count > 1 else ""
    if before and after:
        return f"{line_of}{before}  is now  {after}{more}{alike}"
    return f"{line_of}{before or after}{more} {'taken out' if before else 'put in'}{alike}"


def _blocks(texts: Sequence[str]) -> tuple[str, int]:
    """The first of some blocks, and how many follow it; a card counts what it does not show."""
    uncounted = re.fullmatch(r"\.\.\. and (\d+) more blocks", texts[-1]) if texts else None
    more = len(texts) - 1 + (int(uncounted[1]) - 1 if uncounted else 0)
    return (_cut(texts[0]) if texts else "", more)


def _cut(block: str) -> str:
    return block if len(block) <= _OF_BLOCK else f"{block[: _OF_BLOCK - 1]}…"


def _with_met(number: int, title: str, met: Sequence[Met]) -> list[tuple[int, str]]:
    """What is told of a card: its heaviest finding, and what it makes a tool meet."""
    others = [one.title for one in met if one.number == number and one.title != title]
    return [(number, words) for words in dict.fromkeys((title, *others[:_MET_OF_ONE]))]


@no_collection()
def picture_of_program(side: Side, units: str) -> str:
    """The picture of one program as SVG."""
    return _picture(scene_of_program(side, units), [], None, side)


def views_of(picture: str) -> dict[int, tuple[str, str]]:
    """For each card with a small picture, by its number: the part of the picture that it is (a viewBox), and the element that holds it."""
    return {
        int(number): (box, f"window-{number}" if f'id="window-{number}"' in picture else "window-whole")
        for number, box in re.findall(r'<view id="card-(\d+)" viewBox="([^"]+)"/>', picture)
    }


def _picture(
    scene: Scene, told: Sequence[tuple[int, str]], old: Side | None, new: Side, places: Mapping[int, Box] | None = None,
    met: Sequence[Met] = (), edits: Mapping[int, str] | None = None,
) -> str:  # fmt: skip
    main = whole(scene, met)
    before, now = course_of(old) if old else None, course_of(new)
    parts = [element("g", drawn(scene, main, "whole", scene.marks, met), id="window-whole")]
    views = {number: _view(main) for number in places or ()}
    low = main.top + main.height + 40
    low = _key(parts, scene, low, met, along=differ(before, now))
    words_of = dict(edits or {})
    for number, title in told[:_LISTED]:
        lines = folded(title, _LONG)
        parts += _named(number, lines, low, words_of.get(number, ""))
        low += 20 + 15 * (len(lines) - 1 + (words_of.pop(number, "") != ""))
    if len(told) > _LISTED:
        parts.append(text((EDGE, low + 4), f"and {len(told) - _LISTED} more", fill=paper.ZONE))
        low += 20
    marks = {mark.number: mark for mark in scene.marks}
    for number, window in zooms(scene, main, low + 26, places or {}, met):
        words = f"Around {number}, {_times(window.scale / main.scale)}"
        own = [marks[number]] if number in marks else []
        there = [one for one in met if one.number == number]
        shown = drawn(scene, window, f"around-{number}", own, there, named=False)
        parts.append(text((window.left, window.top - 6), words, weight="bold"))
        parts.append(element("g", shown, id=f"window-{number}"))
        views[number] = _view(window)
        low = max(low, window.top + window.height + 36)
    parts += [element("view", id=f"card-{number}", viewBox=box) for number, box in sorted(views.items())]
    shown, low = strips(before, now, scene.units, EDGE, low + 30, WIDTH - 2 * EDGE)
    along = "spindle speed, feed and power" if has_power(before, now) else "spindle speed and feed"
    return _page("".join([*parts, shown]), low + 36, scene, told, along)


def _view(window: Window) -> str:
    """The part of the page that a window and its scales take."""
    left, top = window.left - 46, window.top - 4
    return f"{page(left)} {page(top)} {page(window.width + 52)} {page(window.height + 24)}"


def _times(factor: float) -> str:
    return f"{factor:.0f} times as large" if factor >= 1.5 else "near"


def _named(number: int, lines: Sequence[str], y: float, edit: str) -> tuple[str, ...]:
    """A card's number in a ring, its sentence, and under it the edit itself."""
    ring = element(
        "circle", cx=page(EDGE + 10), cy=page(y), r=8.5, fill=paper.PAPER, stroke=paper.INK, stroke_width=1.2
    )
    return (
        ring,
        text((EDGE + 10, y + 4), str(number), size=10, anchor="middle", weight="bold"),
        *(text((EDGE + 26, y + 4 + 15 * k), words) for k, words in enumerate(lines)),
        *((text((EDGE + 26, y + 4 + 15 * len(lines)), edit, fill=paper.ZONE),) if edit else ()),
    )


def _key(parts: list[str], scene: Scene, y: float, met: Sequence[Met], *, along: bool) -> float:
    """What lines and areas mean, as far as they are there (`along`: where the strips differ); gives the place below."""
    looks = {one.look for one in scene.stretches} | ({Look.OLD, Look.NEW} if along else set())
    kinds = dict.fromkeys(one.kind for one in scene.outlines)
    entries: list[tuple[str, str]] = []
    for look in (look for look in (Look.BOTH, Look.OTHER, Look.OLD, Look.NEW) if look in looks):
        entries.append((line((0, 0), (34, 0), **LINES[look, False]), WORDS[look] if scene.is_change else "cuts"))
    if any(one.rapid for one in scene.stretches):
        entries.append((line((0, 0), (34, 0), **LINES[Look.BOTH, True]), "rapids"))
    entries += [(rectangle(6, -6, 22, 12, **FILLS[kind]), AREAS[kind]) for kind in kinds]
    if met:
        cross = line((12, 5), (22, -5), **MET) + line((12, -5), (22, 5), **MET)
        entries.append((rectangle(12, -5, 10, 10, fill="none", **MET) + cross, "met here"))
    if any(one.tool for one in met):
        entries.append((rectangle(6, -6, 22, 12, **TOOL), "the tool there"))
    x = EDGE
    for sign, words in entries:
        wide = 64 + 6.4 * len(words)
        if x + wide > WIDTH - EDGE / 2 and x > EDGE:
            x, y = EDGE, y + 20
        parts += [element("g", sign, transform=f"translate({page(x)} {page(y)})"), text((x + 41, y + 4), words)]
        x += wide
    if scene.unplaced:
        y += 20
        words = f"not drawn: {scene.unplaced} moves that begin or end where only the machine knows"
        parts.append(text((EDGE, y + 4), words, fill=paper.ZONE))
    return y + 26


def _page(content: str, height: float, scene: Scene, told: Sequence[tuple[int, str]], along: str) -> str:
    title = "What the edit changes in the path" if scene.is_change else "The path of the program"
    words = ". ".join(f"{number}: {text_}" for number, text_ in told) or "No edit is marked"
    described = f"Half section of the lathe: Z to the right, diameters upward. {words}. Below it {along} along time."
    head = element("title", escape(title), id="picture-title") + element("desc", escape(described), id="picture-words")
    tips = "".join(
        element(
            "marker", element("path", d="M0.5 0.5L5.5 3L0.5 5.5", fill="none", stroke=LINES[look, True]["stroke"], stroke_width=1),
            id=f"tip-{look.name.lower()}", viewBox="0 0 6 6", refX=5.5, refY=3, markerWidth=6, markerHeight=6, orient="auto",
            markerUnits="userSpaceOnUse",
        )
        for look in Look
    )  # fmt: skip
    zone = element(
        "pattern", element("path", d="M0 6L6 0", stroke=paper.ZONE, stroke_width=0.8), id="zone", width=6, height=6,
        patternUnits="userSpaceOnUse",
    )  # fmt: skip
    zone += element(
        "pattern", element("path", d="M0 0L5 5", stroke=paper.OLD, stroke_width=1.2), id="before", width=5, height=5,
        patternUnits="userSpaceOnUse",
    )  # fmt: skip
    back = element("rect", width=page(WIDTH), height=page(height), fill="#ffffff")
    return element(
        "svg", head + element("defs", tips + zone) + back + content, xmlns="http://www.w3.org/2000/svg", role="img",
        aria_labelledby="picture-title picture-words", viewBox=f"0 0 {page(WIDTH)} {page(height)}", width=page(WIDTH),
        height=page(height), font_family=paper.FONT,
    )  # fmt: skip
