"""Machine profiles and setup sheets drawn: where things stand, what is not known said in words, nothing a strict content policy forbids."""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree import ElementTree

import pytest
from click.testing import CliRunner

from verifier.cli import main
from verifier.machines import generic_lathe, load_machine, load_setup, parse_setup
from verifier.report import picture_of_machine, picture_of_setup

FIXTURES = Path(__file__).parents[3] / "fixtures"
SHOP = FIXTURES / "shop"
SVG = "{http://www.w3.org/2000/svg}"
SHEETS = [*sorted((SHOP / "setups").glob("*.toml")), FIXTURES / "pairs" / "contact-neighbouring-drill" / "setup.toml"]
MACHINES = sorted((SHOP / "machines").glob("*.toml"))
DRAWN = {path.parent.name + "/" + path.stem: picture_of_setup(load_setup(path, None)) for path in SHEETS} | {
    path.stem: picture_of_machine(load_machine(path)) for path in MACHINES
}


def words_of(svg: str) -> list[str]:
    return ["".join(node.itertext()) for node in ElementTree.fromstring(svg).iter(f"{SVG}text")]


def described(svg: str) -> str:
    node = ElementTree.fromstring(svg).find(f"{SVG}desc")
    assert node is not None and node.text
    return node.text


@pytest.mark.parametrize("name", DRAWN)
def test_it_is_told_to_a_screen_reader_and_stays_on_its_page(name: str) -> None:
    svg = DRAWN[name]
    root = ElementTree.fromstring(svg)
    assert root.get("role") == "img"
    named = [root.find(f"{SVG}title"), root.find(f"{SVG}desc")]
    assert [node.get("id") for node in named if node is not None] == str(root.get("aria-labelledby")).split()
    assert not re.search(r"<(script|style|image|foreignObject|use)\b|\bstyle=|\bon[a-z]+=|href=|url\((?!#)", svg)
    wide, tall = (float(v) for v in str(root.get("viewBox")).split()[2:])
    # A letter of this type is about 0.58 of its size wide (from memory); a line of it must end on the page.
    for node in root.iter(f"{SVG}text"):
        long = 0.58 * float(str(node.get("font-size"))) * len("".join(node.itertext()))
        left = float(str(node.get("x"))) - {"start": 0, "middle": long / 2, "end": long}[str(node.get("text-anchor"))]
        assert left >= -2 and left + long <= wide + 2 and 0 <= float(str(node.get("y"))) <= tall
    for path in root.iter(f"{SVG}path"):
        assert "nan" not in str(path.get("d"))


def numbers(d: str) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in re.findall(r"(-?[\d.]+) (-?[\d.]+)", d)]


def test_the_raw_piece_and_the_jaws_stand_where_the_sheet_says() -> None:
    root = ElementTree.fromstring(DRAWN["setups/drive-shaft"])
    found = {}
    for path in root.iter(f"{SVG}path"):
        title = path.find(f"{SVG}title")
        if title is not None and title.text:
            found.setdefault(title.text, numbers(str(path.get("d"))))
    piece, jaws = found["raw piece"], found["keep-out zone: jaws"]
    long = max(x for x, _ in piece) - min(x for x, _ in piece)
    scale = long / 165  # the bar is 165 long and 30 thick in radius; jaws from Z-160 to Z-113, its front face at Z2
    assert max(y for _, y in piece) - min(y for _, y in piece) == pytest.approx(30 * scale, abs=0.2)
    assert max(x for x, _ in piece) - max(x for x, _ in jaws) == pytest.approx(115 * scale, abs=0.2)
    assert max(x for x, _ in jaws) - min(x for x, _ in jaws) == pytest.approx(47 * scale, abs=0.2)


def test_each_tool_is_drawn_with_its_outline_and_its_nose() -> None:
    svg = DRAWN["setups/drive-shaft"]
    assert {"T1", "T2", "T3", "T5", "T7", "T9"} <= set(words_of(svg))
    titles = [node.text for node in ElementTree.fromstring(svg).iter(f"{SVG}title")]
    for n in (1, 2, 3, 5, 7, 9):
        assert f"T{n}: what cuts" in titles and f"T{n}: holder or shank, must touch nothing" in titles
    assert titles.count("T9: holder or shank, must touch nothing") == 2, "its bar, and the sleeve that holds it"
    assert titles.count("nose") == 3
    assert (
        "T5: threading, nose 0.1, profile 60°, orientation 8, right hand, upside-down (not known: only the last 1 mm"
        in described(svg)
    )


def test_a_sheet_without_holders_says_that_none_is_known() -> None:
    written = (SHOP / "setups" / "drive-shaft.toml").read_text(encoding="utf-8")
    bare = "\n".join(line for line in written.splitlines() if not line.startswith("holder = "))
    svg = picture_of_setup(parse_setup(bare.encode(), "bare", None))
    assert (
        "T7: drill, diameter 20, point 118°, flute 60, orientation 7 (not known: its holder is not given"
        in described(svg)
    )


def test_what_a_sheet_does_not_say_is_said_and_not_drawn() -> None:
    bare = parse_setup(b'name = "bare"\nunits = "mm"\n[tools.4]\nkind = "turning"\nnose_radius = 0.4\n', "bare", None)
    svg = picture_of_setup(bare)
    together = " ".join(words_of(svg))
    assert "Raw piece: not given" in together and "Turret: not given" in together
    assert "not drawn: shape and" in together and "orientation not given" in together
    assert "<path" not in svg.split("</defs>")[1]


def test_words_of_a_sheet_are_harmless_in_it() -> None:
    text = 'name="a"\nunits="mm"\n[work_holding]\nkind="chuck"\n[[work_holding.keep_out]]\nname="<script>&\\"jaws"\nz_from=-9\nz_to=0\n'
    svg = picture_of_setup(parse_setup((text + "diameter_from=0\ndiameter_to=9").encode(), "a", None))
    ElementTree.fromstring(svg)
    assert "<script" not in svg


def test_a_machine_shows_its_travel_and_its_places() -> None:
    svg = DRAWN["north-lathe"]
    assert {"reference point", "tool change position"} <= set(words_of(svg))
    root = ElementTree.fromstring(svg)
    boxes = [
        tuple(float(str(rect.get(k))) for k in ("x", "y", "width", "height"))
        for rect in root.iter(f"{SVG}rect")
        if rect.get("x")
    ]
    room = boxes[1]  # behind it the frame
    scale = room[2] / 620  # Z from -620 to 0, X from -420 to 0 of diameter
    assert room[3] == pytest.approx(210 * scale, abs=0.2)
    square = boxes[2]  # the tool change position, X-60 Z-40
    assert room[0] + room[2] - (square[0] + 6) == pytest.approx(40 * scale, abs=0.2)
    assert (square[1] + 6) - room[1] == pytest.approx(30 * scale, abs=0.2)


def test_of_a_machine_without_travel_nothing_is_invented() -> None:
    svg = picture_of_machine(generic_lathe())
    assert "not drawn: the profile gives neither the whole travel nor a place" in words_of(svg)
    assert "X: travel not given" in described(svg)


def test_the_commands_write_them(tmp_path: Path) -> None:
    for words, name in ((("setup", "show", SHEETS[0]), "s.svg"), (("machine", "show", MACHINES[0]), "m.svg")):
        done = CliRunner().invoke(main, [str(word) for word in (*words, "--picture", tmp_path / name)])
        assert done.exit_code == 0, done.output
        assert (tmp_path / name).read_text("utf-8").startswith("<svg")
    over = CliRunner().invoke(main, ["setup", "show", str(SHEETS[0]), "--picture", str(SHEETS[0])])
    assert over.exit_code == 2
