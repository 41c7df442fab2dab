"""The picture as people get it: well-formed, escaped, without anything that a strict content policy forbids, the same every time."""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree import ElementTree

import pytest

from tests.report.pairs import pairs
from verifier.machines import load_machine, load_setup
from verifier.report import examined, reviewed, to_html
from verifier.report.picture.plan import LINES, WORDS
from verifier.report.picture.scene import Look

SHOP = Path(__file__).parents[3] / "fixtures" / "shop"
MACHINE = load_machine(SHOP / "machines" / "north-lathe.toml")
SETUP = load_setup(SHOP / "setups" / "drive-shaft.toml", MACHINE)
SVG = "{http://www.w3.org/2000/svg}"


def picture(name: str = "seal-groove-0.3-smaller.nc", old: str = "base.nc") -> str:
    folder = SHOP / "programs" / "drive-shaft"
    return reviewed((folder / old).read_bytes(), (folder / name).read_bytes(), machine=MACHINE, setup=SETUP).picture()


def words_of(svg: str) -> list[str]:
    return ["".join(node.itertext()) for node in ElementTree.fromstring(svg).iter(f"{SVG}text")]


def test_it_is_told_to_a_screen_reader_and_names_the_first_edit() -> None:
    root = ElementTree.fromstring(picture())
    assert root.get("role") == "img"
    named = [root.find(f"{SVG}title"), root.find(f"{SVG}desc")]
    assert all(node is not None and node.text for node in named)
    assert [node.get("id") for node in named if node is not None] == str(root.get("aria-labelledby")).split()
    assert "34.7 mm" in "".join(node.text or "" for node in named if node is not None)


def test_it_shows_what_the_edit_did() -> None:
    words = words_of(picture())
    assert any(word.startswith("X changed from 35 mm to 34.7 mm") for word in words)
    assert any(word.startswith("Around 1, ") for word in words)
    assert {"base and revision alike", "revision only", "left standing by the base only", "keep-out zone"} <= set(words)
    assert "base only" in words, "in the strips: from there on it is at everything at another time"
    assert any(re.match(r"line \d+: G01 X35\. F0\.08  is now  G01 X34\.7 F0\.08", word) for word in words)


def test_nothing_in_it_needs_what_a_strict_content_policy_forbids() -> None:
    svg = picture()
    assert not re.search(r"<(script|style|image|foreignObject|use)\b|\bstyle=|\bon[a-z]+=|href=|url\((?!#)", svg)


def test_looks_are_told_by_more_than_colour() -> None:
    seen = set()
    for look in Look:
        line = LINES[look, False]
        seen.add((line["stroke_width"], line.get("stroke_dasharray"), line.get("stroke_opacity")))
    assert len(seen) == len(Look) == len(WORDS)
    assert all("stroke_dasharray" in LINES[look, True] for look in Look)


@pytest.mark.parametrize("name", ["decimal-point-lost.nc", "thread-depth-mistyped.nc", "renumbered-respaced.nc"])
def test_it_is_the_same_every_time_and_nothing_lies_beyond_the_page(name: str) -> None:
    svg = picture(name)
    assert svg == picture(name)
    root = ElementTree.fromstring(svg)
    wide, tall = (float(v) for v in str(root.get("viewBox")).split()[2:])
    for node in root.iter(f"{SVG}text"):
        assert 0 <= float(str(node.get("x"))) <= wide and 0 <= float(str(node.get("y"))) <= tall


def test_words_of_a_program_are_harmless_in_it() -> None:
    text = b"O1 (A)\nN1 G21 G40 G97 G99 S500 M03\nT0101\nG00 X50. Z2.\nG01 Z-9. F0.2 (<script>&\"')\nG00 X60.\nM30\n"
    svg = reviewed(text, text.replace(b"-9.", b"-8.").replace(b"(<", b"(5 <")).picture()
    assert "<script" not in svg
    ElementTree.fromstring(svg)


@pytest.mark.parametrize(
    "text",
    [
        b"M30\n",
        b"O1\n(NOTHING)\nM30\n",
        b"O1\nG00 X1.\nM30\n",
        b"G28 U0 W0\nM30\n",
        b"G21 G97 S5 M03\nG01 X#500 F.1\nM30\n",
    ],
)
def test_a_program_without_a_drawable_path_gives_a_picture_all_the_same(text: bytes) -> None:
    ElementTree.fromstring(examined(text).picture())
    ElementTree.fromstring(reviewed(text, text + b"\n").picture())


def test_a_very_long_program_gives_a_bounded_picture() -> None:
    body = "".join(f"G01 X{50 - k % 7 * 0.1:.1f} Z{-k * 0.01:.2f} F0.2\n" for k in range(4_000))
    text = f"O1\nG21 G97 G99 S500 M03\nT0101\nG00 X60. Z2.\n{body}M30\n".encode()
    svg = reviewed(text, text.replace(b"F0.2", b"F0.3")).picture()
    assert len(svg) < 4_000_000
    ElementTree.fromstring(svg)


def test_the_page_holds_the_picture_and_the_digest_knows_nothing_of_it() -> None:
    folder = SHOP / "programs" / "drive-shaft"
    found = reviewed(
        (folder / "base.nc").read_bytes(), (folder / "decimal-point-lost.nc").read_bytes(), machine=MACHINE
    )
    digest = found.report.digest
    page = to_html(found.report, found.picture())
    assert '<figure class="picture"><svg' in page and found.report.digest == digest
    assert "<svg" not in to_html(found.report)


def test_the_edit_itself_stands_under_its_sentence() -> None:
    """By hand: the sequence N2 has 14 blocks, of which the first is shown; a word is changed from one block to another."""
    drawn = {pair.folder.name: pair for pair in pairs()}
    gone = words_of(drawn["sequence-removed"].reviewed().picture())
    assert "line 21: N2 G00 G40 G97 G99, and 13 more taken out" in gone
    moved = words_of(drawn["contact-holder-on-the-jaws"].reviewed().picture())
    assert "line 86: Z-88.  is now  Z-91." in moved
