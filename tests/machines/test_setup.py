"""Setup sheets: every mistake in one run, exact units, nothing invented."""

from fractions import Fraction
from pathlib import Path

import pytest

from verifier.machines import Setup, load_machine, load_setup, setup_text
from verifier.source import MachineError

SHOP = Path(__file__).parents[2] / "fixtures" / "shop"


def load(folder: Path, text: str, machine: str | None = None) -> Setup:
    path = folder / "sheet.toml"
    path.write_text('name = "job"\nunits = "mm"\n' + text, "utf-8")
    return load_setup(path, load_machine(SHOP / "machines" / f"{machine}.toml") if machine else None)


def mistakes(folder: Path, text: str, machine: str | None = None) -> list[str]:
    with pytest.raises(MachineError) as caught:
        load(folder, text, machine)
    return [line.removeprefix(str(folder / "sheet.toml") + ": ") for line in caught.value.mistakes]


def test_an_empty_sheet_says_nothing_and_invents_nothing(tmp_path: Path) -> None:
    setup = load(tmp_path, "")
    assert setup.stock is None and setup.work_holding is None
    assert not setup.tools and not setup.work_offsets and not setup.variables and not setup.limits


def test_what_a_tool_does_not_say_stays_unknown(tmp_path: Path) -> None:
    tool = load(tmp_path, "[tools.04]\nkind = 'turning'").tools[4]
    unknown = (tool.nose_radius, tool.orientation, tool.blade_width, tool.diameter, tool.hand, tool.mounted)
    assert unknown == (None,) * 6 and tool.station == 4


def test_a_tool_says_its_further_offsets_and_the_group_that_it_belongs_to(tmp_path: Path) -> None:
    tools = load(
        tmp_path, "[tools.3]\nkind = 'grooving'\noffsets = [23, 13, 13]\n[tools.4]\nkind = 'turning'\ngroup = 'rough'"
    ).tools
    assert (tools[3].offsets, tools[3].group) == ((13, 23), None)
    assert (tools[4].offsets, tools[4].group) == ((), "rough")
    assert any("tools.3.offsets" in told for told in mistakes(tmp_path, "[tools.3]\nkind = 'grooving'\noffsets = [0]"))


FIVE = """
[stock]
kind = "tube"
diameter = 60
inner = 70
length = "100"
face_z = 0
[tools.1]
kind = "turnning"
[tools.2]
kind = "turning"
orientation = 12
[[limits]]
axis = "X"
nominal = 20
upper = -0.1
lower = 0
"""


def test_five_mistakes_make_five_lines(tmp_path: Path) -> None:
    assert sorted(mistakes(tmp_path, FIVE)) == [
        "limits.0.upper: got -0.1, expected not below the lower deviation, 0",
        "stock.inner: got 70, expected less than the diameter, 60",
        'stock.length: got "100", expected a number',
        'tools.1.kind: got "turnning", expected one of turning, boring, grooving, parting, threading, drill, other'
        " (did you mean turning?)",
        "tools.2.orientation: got 12, expected a number of 9 at most",
    ]


@pytest.mark.parametrize(
    ("text", "line"),
    [
        (
            "[tools.1]\nkind='turning'\n[tools.01]\nkind='drill'",
            "tools.01: got the same number again, expected one entry",
        ),
        ("[tools.T1]\nkind='turning'", 'tools.T1: got "T1", expected the number of a station'),
        ("[tools.1]\nkind='turning'\nblade_width=3", 'tools.1.blade_width: got 3, expected nothing for kind "turning"'),
        ("[tools.1]\nkind='boring'\npoint_angle=118", "tools.1.point_angle: got 118, expected nothing"),
        ("[tools.1]\nkind='drill'\npoint_angle=190", "tools.1.point_angle: got 190, expected an angle of 180"),
        ("[tools.1]\nkind='drill'\nnose_radius=0.4", "tools.1.nose_radius: got 0.4, expected nothing"),
        ("[tools.1]\nkind='parting'\nblade_width=2\nnose_radius=1.5", "tools.1.nose_radius: got 1.5, expected half"),
        ("[tools.1]\nkind='turning'\nnose_raduis=0.8", "tools.1.nose_raduis: got an unknown key"),
        (
            "[tools.1]\nkind='turning'\nnose_radius=-0.8",
            "tools.1.nose_radius: got -0.8, expected a number of 0 or more",
        ),
        ("[tools.1]\nkind='turning'\nholder=[[0, 1], [1]]", "tools.1.holder"),
        (
            "[tools.1]\nkind='turning'\nholder=[[0, 5], [20, 5], [5, 20], [20, 20]]",
            "tools.1.holder.3: got an edge that meets edge 1, expected an outline that does not cross itself",
        ),
        (
            "[stock]\nkind='bar'\ndiameter=6\ninner=2\nlength=9\nface_z=0",
            "stock.inner: got 2, expected nothing for a bar",
        ),
        (
            "[stock]\nkind='tube'\ndiameter=6\nlength=9\nface_z=0",
            "stock.inner: got nothing, expected the inner diameter",
        ),
        ("[[limits]]\naxis='X'\nnominal=0\nupper=1\nlower=0", "limits.0.nominal: got 0, expected a diameter above 0"),
        ("[work_offsets.G53]\nX=0", 'work_offsets.G53: got "G53", expected a work offset such as G54'),
        (
            "[work_holding]\nkind='chuck'\n[[work_holding.keep_out]]\nname='jaws'\nz_from=1\nz_to=0\n"
            "diameter_from=0\ndiameter_to=9",
            "work_holding.keep_out.0.z_from: got 1, expected less than z_to, 0",
        ),
    ],
)
def test_a_mistake_is_one_line(tmp_path: Path, text: str, line: str) -> None:
    found = mistakes(tmp_path, text)
    assert len(found) == 1
    assert found[0].startswith(line)


def test_the_machine_is_asked_where_one_is_given(tmp_path: Path) -> None:
    text = "[work_offsets.G54]\nX = 10\nC = 0\n[variables]\n500 = 1\n5 = 1\n5021 = 2"
    load(tmp_path, text)
    assert mistakes(tmp_path, text, "north-lathe") == [
        "work_offsets.G54.X: got 10, expected a machine position within the travel, -420 to 0 mm",
        "work_offsets.G54.C: got 0, expected an axis of this machine: X, Z",
        "variables.5: got #5, expected a common or kept variable of this machine",
        "variables.5021: got #5021, expected a common or kept variable of this machine",
    ]


def test_travel_is_compared_in_the_unit_of_the_sheet(tmp_path: Path) -> None:
    path = tmp_path / "sheet.toml"
    path.write_text('name = "job"\nunits = "inch"\n[work_offsets.G54]\nX = -17', "utf-8")
    with pytest.raises(MachineError, match="within the travel"):
        load_setup(path, load_machine(SHOP / "machines" / "north-lathe.toml"))


@pytest.mark.parametrize(
    ("sheet", "machine"),
    [("drive-shaft", "north-lathe"), ("flanged-sleeve", "north-lathe"), ("clamp-stud", "dock-lathe")],
)
def test_the_sheets_of_the_demo_shop_fit_their_machines(sheet: str, machine: str) -> None:
    setup = load_setup(SHOP / "setups" / f"{sheet}.toml", load_machine(SHOP / "machines" / f"{machine}.toml"))
    assert setup.stock is not None and setup.tools[1].orientation == 3


def test_inches_are_exact_millimetres() -> None:
    setup = load_setup(SHOP / "setups" / "clamp-stud.toml", None)
    assert setup.stock is not None and setup.stock.diameter == Fraction("63.5")
    assert setup.tools[1].nose_radius == Fraction(1, 32) * Fraction("25.4")
    assert setup.tools[2].nose_radius == Fraction(1, 64) * Fraction("25.4")
    assert setup.limits[0].upper == Fraction("0.0254")
    assert setup.work_offsets["G54"]["X"] == Fraction("-330.2")


def test_variables_are_numbers_and_not_lengths(tmp_path: Path) -> None:
    path = tmp_path / "sheet.toml"
    path.write_text('name = "job"\nunits = "inch"\n[variables]\n500 = 1.5', "utf-8")
    assert load_setup(path, None).variables[500] == Fraction(3, 2)


def test_digest_is_of_the_content(tmp_path: Path) -> None:
    one = load(tmp_path, "[tools.1]\nkind='turning'\n[tools.2]\nkind='drill'\ndiameter=20")
    same = load(tmp_path, "# other order\n[tools.02]\ndiameter=20.0\nkind='drill'\n[tools.1]\nkind='turning'")
    other = load(tmp_path, "[tools.1]\nkind='turning'\n[tools.2]\nkind='drill'\ndiameter=20.1")
    assert one == same and one.digest != other.digest


# -- tools by designation, outlines -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("designation", "shape", "edge", "nose"),
    [
        # Nose radius field of ISO 1832: 04 is 0.4, 08 is 0.8, 12 is 1.2 mm; inch style counts sixty-fourths of an inch.
        ("CNMG 12 04 08", "C", "12", "0.8"),
        ("DNMG150604", "D", "15", "0.4"),
        ("VBMT 16 04 12", "V", "16", "1.2"),
        ("RCMT 12 04 M0", "R", "12", "6"),
        # Edge lengths around an inscribed circle of 1/2 inch, in mm, as tables of inserts print them: C 12.9, W 8.7, T 22, S 12.7.
        ("CNMG 432", "C", "12.895", "0.79375"),
        ("WNMG 433", "W", "8.687", "1.190625"),
        ("TNMG 431", "T", "21.997", "0.396875"),
        ("SNMG 432", "S", "12.7", "0.79375"),
        # Parallelograms and rectangles: metric letters give the long edge; inch style eighths of the width, then quarters of the length
        # (ANSI B212.4-1986, as a shop's page quotes it: loganact.com/tips/insert.htm and other tables).
        ("KNUX 16 04 05", "K", "16", "0.5"),
        ("LNMX 19 10 08", "L", "19", "0.8"),
        ("ANGN 3322", "A", "19.05", "0.79375"),
    ],
)
def test_an_insert_is_known_by_its_designation(
    tmp_path: Path, designation: str, shape: str, edge: str, nose: str
) -> None:
    tool = load(tmp_path, f"[tools.1]\nkind='turning'\ninsert='{designation}'").tools[1]
    assert (tool.shape, tool.edge_length, tool.nose_radius) == (shape, Fraction(edge), Fraction(nose))


def test_of_a_parallelogram_the_letters_give_the_width_in_inch_style_only(tmp_path: Path) -> None:
    text = "[tools.1]\nkind='turning'\ninsert='{}'"
    assert load(tmp_path, text.format("KNUX 16 04 05")).tools[1].insert_width is None
    assert load(tmp_path, text.format("ANGN 3322")).tools[1].insert_width == Fraction("9.525")
    wider = text.format("ANGN 3322") + "\ninsert_width=9.6"
    assert load(tmp_path, wider).tools[1].insert_width == Fraction("9.6")
    wrong = mistakes(tmp_path, text.format("CNMG 12 04 08") + "\ninsert_width=9.6")
    assert wrong == ["tools.1.insert_width: got 9.6, expected nothing for shape C, only for A, B, K, L"]
    assert "tools.1.insert: got" in mistakes(tmp_path, text.format("KNUX 432"))[0]


def test_what_the_sheet_says_of_an_insert_comes_before_its_designation(tmp_path: Path) -> None:
    text = "[tools.1]\nkind='turning'\ninsert='CNMG 12 04 08'\nnose_radius=0.79\nedge_length=12.9"
    tool = load(tmp_path, text).tools[1]
    assert (tool.nose_radius, tool.edge_length) == (Fraction("0.79"), Fraction("12.9"))


CONTOUR = """
[stock]
kind = "contour"
outline = [[0, 2], [50, 2], [50, -30], [80, -30], [80, -70], [0, -70]]
[work_holding]
kind = "chuck"
[[work_holding.keep_out]]
name = "tailstock"
kind = "tailstock"
outline = [[0, 5], [30, 40], [0, 40]]
"""


def test_a_contour_has_a_box_around_it_and_is_written_out_again(tmp_path: Path) -> None:
    setup = load(tmp_path, CONTOUR)
    assert setup.stock is not None and setup.work_holding is not None
    assert (setup.stock.diameter, setup.stock.length, setup.stock.face_z) == (80, 72, 2)
    zone = setup.work_holding.keep_out[0]
    assert (zone.z_from, zone.z_to, zone.diameter_from, zone.diameter_to, len(zone.outline)) == (5, 40, 0, 30, 3)
    (tmp_path / "again.toml").write_text(setup_text(setup), "utf-8")
    assert load_setup(tmp_path / "again.toml", None) == setup


TOOL_MISTAKES = """
[stock]
kind = "contour"
diameter = 80
outline = [[0, 0], [40, -50], [0, -50], [40, 0]]
[[work_holding.keep_out]]
name = "jaws"
kind = "jaw"
z_from = -10
[tools.1]
kind = "turning"
insert = "XNMG 12 04 08"
[tools.2]
kind = "turning"
insert = "CNMG 12 04 08"
shape = "D"
approach_angle = 120
[tools.3]
kind = "drill"
blade_depth = 3
"""


def test_every_mistake_about_tools_and_outlines_is_told_with_its_key(tmp_path: Path) -> None:
    assert sorted(mistakes(tmp_path, TOOL_MISTAKES)) == [
        "stock.diameter: got 80, expected nothing beside an outline, which says it",
        "stock.outline.2: got an edge that meets edge 0, expected an outline that does not cross itself",
        'tools.1.insert: got "XNMG 12 04 08", expected an insert as ISO 1832 designates it, such as CNMG 12 04 08 or CNMG 432',
        "tools.2.approach_angle: got 120, expected 100 degrees at most for shape C",
        'tools.2.shape: got "D", expected "C", as in CNMG 12 04 08',
        'tools.3.blade_depth: got 3, expected nothing for kind "drill", only for grooving, parting',
        "work_holding.keep_out.0.diameter_from: got nothing, expected a value",
        "work_holding.keep_out.0.diameter_to: got nothing, expected a value",
        'work_holding.keep_out.0.kind: got "jaw", expected one of jaws, soft-jaws, tailstock, steady, other'
        " (did you mean jaws?)",
        "work_holding.keep_out.0.z_to: got nothing, expected a value",
        "work_holding.kind: got nothing, expected a value",
    ]


TURRET = """
[turret]
stations = 12
swing_radius = 240
[tools.13]
kind = "drill"
from_turret_axis = 165
from_turret_face = -20.5
holder_width = 0
"""


def test_a_turret_has_its_stations_and_a_whole_ring(tmp_path: Path) -> None:
    assert sorted(mistakes(tmp_path, TURRET)) == [
        "tools.13.holder_width: got 0, expected a number above 0",
        "tools.13: got station 13, expected a station of the turret, 1 to 12",
        "turret.swing_length: got nothing, expected a value beside swing_radius",
    ]
    good = TURRET.replace("240", "240\nswing_length = 120").replace("13", "12").replace("width = 0", "width = 25")
    setup = load(tmp_path, good)
    assert setup.turret is not None and (setup.turret.stations, setup.turret.swing_length) == (12, 120)
    (tmp_path / "again.toml").write_text(setup_text(setup), "utf-8")
    assert load_setup(tmp_path / "again.toml", None) == setup
