"""What a tool meets, in the picture: a window holds the place, the tool stands in it, and the words to a screen reader name it."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cache
from xml.etree import ElementTree

import pytest

from tests.report.pairs import pairs
from verifier.findings import Finding, Status
from verifier.report import Reviewed
from verifier.report.picture import views_of

SVG = "{http://www.w3.org/2000/svg}"
RULES = {
    "contact-beyond-travel": "travel-limit",
    "contact-blade-moved-sideways": "blade-moved-sideways",
    "contact-bore-left-sideways": "bore-retract-outward",
    "contact-drill-past-its-flute": "drill-past-flute",
    "contact-holder-on-the-jaws": "keep-out-entered",
    "contact-jaws-at-a-feed": "keep-out-entered",
    "contact-loose-piece": "loose-piece-met",
    "contact-neighbouring-drill": "neighbour-tool-met",
    "contact-rapid-against-the-wall-of-a-groove": "rapid-into-material",
    "contact-shank-on-the-rest-of-a-hole": "holder-into-material",
    "contact-swing-of-an-index": "index-swing-met",
    "contact-tool-change-beside-the-work": "tool-change-near-work",
    "contact-work-cut-free": "work-cut-free",
}
"""The rule that tells each pair's contact."""
PAIRS = {pair.folder.name: pair for pair in pairs()}


@cache
def drawn(name: str) -> tuple[Reviewed, str]:
    found = PAIRS[name].reviewed()
    return found, found.picture()


def told(name: str) -> Finding:
    return next(f for f in drawn(name)[0].report.findings if f.rule == RULES[name] and f.status is Status.NEW)


def test_every_kind_of_contact_has_its_pair() -> None:
    named = {name for name in PAIRS if name.startswith("contact-")}
    assert named - {"contact-neighbours-not-checked"} == set(RULES)


@pytest.mark.parametrize("name", RULES)
def test_a_window_holds_the_place_and_marks_it(name: str) -> None:
    """Where the place lies on the page is worked out from the scales that a reader sees, not from the window's own numbers."""
    finding, (found, svg) = told(name), drawn(name)
    assert finding.box is not None
    root = ElementTree.fromstring(svg)
    number = next(
        k
        for k, card in enumerate(found.report.cards, 1)
        if any(found.report.findings[i] is finding for i in card.findings)
    )
    view, held = views_of(svg)[number]
    (group,) = (node for node in root.iter(f"{SVG}g") if node.get("id") == held)
    unit = 25.4 if PAIRS[name].truth["setup"].endswith("clamp-stud.toml") else 1.0
    z_at, d_at = scale(group, "middle"), scale(group, "end")
    z0, z1, r0, r1 = finding.box
    left, top, wide, tall = (float(v) for v in view.split())
    assert left <= z_at(z0 / unit) - 1e-6 and z_at(z1 / unit) <= left + wide
    assert top <= d_at(2 * r1 / unit) + 1e-6 and d_at(2 * r0 / unit) <= top + tall
    mark = next(node for node in group.iter(f"{SVG}g") if node.findtext(f"{SVG}title") == f"{number}: {finding.title}")
    box = mark.find(f"{SVG}rect")
    assert box is not None
    x, y, w, h = (float(str(box.get(key))) for key in ("x", "y", "width", "height"))
    assert x + w / 2 == pytest.approx((z_at(z0 / unit) + z_at(z1 / unit)) / 2, abs=1)
    assert y + h / 2 == pytest.approx((d_at(2 * r0 / unit) + d_at(2 * r1 / unit)) / 2, abs=1)


def scale(group: ElementTree.Element, anchor: str) -> Callable[[float], float]:
    """From a number on a scale of a window to the page, by two of its labels: Z's are centred, those of the diameters end at their stroke."""
    axis = "x" if anchor == "middle" else "y"
    labels = {}
    for node in group.iter(f"{SVG}text"):
        if (
            node.get("text-anchor") == anchor
            and node.get("font-size") == "10"
            and re.fullmatch(r"-?[\d.]+", node.text or "")
        ):
            labels[float(str(node.text))] = float(str(node.get(axis))) - (3.5 if axis == "y" else 0)
    (one, at), (other, there) = min(labels.items()), max(labels.items())
    assert one < other
    return lambda value: at + (value - one) * (there - at) / (other - one)


@pytest.mark.parametrize("name", RULES)
def test_the_words_to_a_screen_reader_name_the_contact(name: str) -> None:
    root = ElementTree.fromstring(drawn(name)[1])
    assert told(name).title in str(root.findtext(f"{SVG}desc"))


@pytest.mark.parametrize("name", sorted(set(RULES) - {"contact-beyond-travel"}))
def test_what_meets_it_stands_in_the_window(name: str) -> None:
    root = ElementTree.fromstring(drawn(name)[1])
    titles = [str(node.findtext(f"{SVG}title")) for node in root.iter(f"{SVG}path")]
    assert any(title.startswith("the tool: ") for title in titles)


@pytest.mark.parametrize("name", sorted(pair for pair in PAIRS if "setup" in PAIRS[pair].truth))
def test_lines_of_text_do_not_cover_one_another(name: str) -> None:
    """A letter is about 0.58 of its size wide (from memory); two lines whose boxes overlap by more than a tenth of a line cannot be read."""
    boxes = []
    for node in ElementTree.fromstring(drawn(name)[1]).iter(f"{SVG}text"):
        size, words = float(str(node.get("font-size"))), "".join(node.itertext())
        long = 0.58 * size * len(words)
        left = float(str(node.get("x"))) - {"start": 0, "middle": long / 2, "end": long}[str(node.get("text-anchor"))]
        y = float(str(node.get("y")))
        boxes.append((left, left + long, y - 0.8 * size, y, words))
    for k, (l0, r0, t0, b0, words) in enumerate(boxes):
        for l1, r1, t1, b1, other in boxes[k + 1 :]:
            assert min(r0, r1) - max(l0, l1) < 2 or min(b0, b1) - max(t0, t1) < 2, (words, other)
