"""What an operation leaves is the stock of the next one: the same piece, the right way round, bound to what it came from."""

from __future__ import annotations

from math import pi
from pathlib import Path

import pytest
import shapely
from click.testing import CliRunner

from verifier.cli import main
from verifier.geometry import TurnedPart, stock_section, turned_part
from verifier.machines import Setup, load_setup, parse_setup, setup_text
from verifier.report import Origin, examined, stock_left
from verifier.source import MachineError, VerifierError

SHEET = """
name = "first-side"
units = "mm"
[stock]
kind = "bar"
diameter = 60
length = 100
face_z = 0
[tools.1]
kind = "turning"
shape = "C"
edge_length = 12
approach_angle = 95
nose_radius = 0.8
orientation = 3
[tools.3]
kind = "parting"
blade_width = 3
blade_depth = 40
orientation = 3
side_clearance = 1
"""
HEAD = "O1000 (SHAFT)\nN1 G00 G21 G40 G54 G97 G99\nT0101\nG97 S500 M03\nX62. Z2.\n"
STEP = "X40.\nG01 Z-30. F0.2\nX62.\nG00 Z2.\n"
OTHER = "X30.\nG01 Z-10. F0.2\nX62.\nG00 Z2.\n"
END = "G00 X100. Z50.\nM05\nM30\n"


def written(folder: Path, body: str, name: str = "left.toml", sheet: str = SHEET) -> Path:
    """The piece that a program leaves, as a file in a folder beside program and sheet."""
    (folder / "first.nc").write_text(HEAD + body + END, "utf-8")
    (folder / "first.toml").write_text(sheet, "utf-8")
    found = examined((HEAD + body + END).encode(), setup=load_setup(folder / "first.toml", None))
    (folder / name).write_text(stock_left(found.side, Origin("first.nc", "first.toml", None)), "utf-8")
    return folder / name


def second(folder: Path, keys: str = "", file: str = "left.toml") -> Setup:
    """The sheet of the second operation."""
    text = SHEET.replace('name = "first-side"', 'name = "second-side"')
    head, rest = text.split("[stock]")
    tools = rest[rest.index("[tools.1]") :]
    (folder / "second.toml").write_text(
        f'{head}[stock]\nkind = "earlier-operation"\nfile = "{file}"\n{keys}\n{tools}', "utf-8"
    )
    return load_setup(folder / "second.toml", None)


def part(body: str, setup: Setup) -> TurnedPart:
    side = examined((HEAD + body + END).encode(), setup=setup).side
    found = turned_part(side.trace, side.machine, setup)
    assert found is not None
    return found


def test_two_operations_one_after_the_other_leave_what_both_in_one_leave(tmp_path: Path) -> None:
    # shapely as the judge: the same half section within the accuracy of 0.001 mm.
    written(tmp_path, STEP)
    apart, together = part(OTHER, second(tmp_path)), part(STEP + OTHER, load_setup(tmp_path / "first.toml", None))
    differs = shapely.symmetric_difference(apart.left, together.left)
    assert shapely.is_empty(shapely.buffer(differs, -0.0005))
    assert apart.left.area == pytest.approx(together.left.area, abs=1e-3)


def test_turned_round_the_piece_is_its_mirror_image_with_the_volume_of_pappus(tmp_path: Path) -> None:
    # A bar of 60 by 100 with its first 30 mm turned to 40, by a nose of 0.8: the fillet in its corner is r^2 (1 - pi/4) in section, and its
    # centroid lies r (10 - 3 pi) / (12 - 3 pi) from its corner's sides (Pappus; any table of centroids).
    written(tmp_path, STEP)
    stock = second(tmp_path, "turned_round = true\nface_z = 0.5").stock
    assert stock is not None and (stock.face_z, stock.length, stock.diameter) == (0.5, 100, 60)
    section = stock_section(stock)
    fillet, nose = 0.8**2 * (1 - pi / 4), 0.8
    lever = 20 + nose * (10 - 3 * pi) / (12 - 3 * pi)
    assert 2 * pi * section.area * section.centroid.y == pytest.approx(
        pi * (20**2 * 30 + 30**2 * 70) + 2 * pi * fillet * lever, rel=2e-6
    )
    # The turned end is now at the back: from Z -69.5 on it is 40 thick.
    assert section.intersection(shapely.box(-99, 20.01, -71, 40)).area == pytest.approx(0, abs=1e-9)
    assert section.contains(shapely.Point(-69, 29.9)) and section.contains(shapely.Point(0.4, 29.9))


def test_its_face_may_lie_elsewhere(tmp_path: Path) -> None:
    written(tmp_path, STEP)
    assert second(tmp_path, "face_z = 3").stock != second(tmp_path).stock
    stock = second(tmp_path, "face_z = 3").stock
    assert stock is not None and stock.face_z == 3


def test_of_what_is_cut_free_the_piece_goes_on(tmp_path: Path) -> None:
    written(tmp_path, "G00 X100.\nT0303\nG00 X62. Z-50.\nG01 X-0.2 F0.05\nG00 X62.\n")
    stock = second(tmp_path).stock
    assert stock is not None and float(stock.length) == pytest.approx(47, abs=0.001)  # 50 less the 3 mm of the blade


def doubts(setup: Setup) -> tuple[str, ...]:
    assert setup.stock is not None and setup.stock.came_from is not None
    return setup.stock.came_from.doubts


def test_whatever_it_came_from_and_is_another_now_is_told_as_unchecked(tmp_path: Path) -> None:
    written(tmp_path, STEP)
    assert doubts(second(tmp_path)) == ()
    (tmp_path / "first.nc").write_text(HEAD + OTHER + END, "utf-8")
    stale = second(tmp_path)
    assert doubts(stale) == ("it came from another revision of first.nc than the one that is there now",)
    report = examined((HEAD + OTHER + END).encode(), setup=stale).report
    assert ("the stock", doubts(stale)[0]) in {(entry.what, entry.reason) for entry in report.unchecked}
    (tmp_path / "first.toml").write_text(SHEET.replace("length = 100", "length = 101"), "utf-8")
    (tmp_path / "first.nc").unlink()
    assert [said.split(",")[0] for said in doubts(second(tmp_path))] == [
        "the program that it came from",
        "it came from another version of the setup sheet first.toml than the one that is there now",
    ]
    (tmp_path / "first.toml").unlink()
    assert "cannot be read" in doubts(second(tmp_path))[1]


def test_its_digest_is_bound_to_what_it_came_from(tmp_path: Path) -> None:
    written(tmp_path, STEP)
    before = second(tmp_path).digest
    written(tmp_path, STEP.replace("F0.2", "F0.3"))
    assert second(tmp_path).digest != before


def test_an_uncertain_piece_leaves_the_next_part_uncertain(tmp_path: Path) -> None:
    written(tmp_path, "G00 X100.\nT0909\nG00 X62. Z2.\n" + STEP)
    found = part(OTHER, second(tmp_path))
    assert not found.certain
    assert any("T9" in gap.reason for gap in found.gaps if gap.what == "the stock")
    written(tmp_path, "X50.\nZ-20.\nX62.\n")
    assert not part(OTHER, second(tmp_path)).certain


def mistake(folder: Path, **given: str) -> str:
    with pytest.raises(MachineError) as caught:
        second(folder, **given)
    return caught.value.mistakes[0].removeprefix(str(folder / "second.toml") + ": ")


def test_a_file_that_is_not_there_is_told_with_its_key(tmp_path: Path) -> None:
    written(tmp_path, STEP)
    assert mistake(tmp_path, file="other.toml").startswith(
        'stock.file: got "other.toml", which is not there, expected a file beside this sheet'
    )
    assert mistake(tmp_path, file="/left.toml").startswith('stock.file: got "/left.toml", expected a path from')
    assert mistake(tmp_path, keys="turned_round = true").startswith("stock.face_z: got nothing, expected Z of")
    assert (
        mistake(tmp_path, keys="diameter = 3") == "stock.diameter: got 3, expected nothing beside a file, which says it"
    )
    (tmp_path / "bad.toml").write_text("name = 3\n", "utf-8")
    assert mistake(tmp_path, file="bad.toml").startswith('stock.file: got "bad.toml", which has mistakes')


def test_what_rests_on_itself_is_a_mistake(tmp_path: Path) -> None:
    left = written(tmp_path, STEP)
    assert "does not rest on this sheet itself" in mistake(tmp_path, file="second.toml")
    left.write_text(left.read_text("utf-8").replace('setup = "first.toml"', 'setup = "second.toml"'), "utf-8")
    assert mistake(tmp_path).startswith("stock.file: ")


def test_a_sheet_that_is_handed_in_alone_holds_its_outline_or_is_refused(tmp_path: Path) -> None:
    written(tmp_path, STEP)
    sheet = second(tmp_path, "turned_round = true\nface_z = 0")
    with pytest.raises(MachineError) as caught:
        parse_setup((tmp_path / "second.toml").read_bytes(), "sheet", None)
    assert "stock.file" in caught.value.mistakes[0] and "handed in alone" in caught.value.mistakes[0]
    alone = parse_setup(setup_text(sheet).encode(), "sheet", None)
    assert alone.stock is not None and sheet.stock is not None and alone.stock.outline == sheet.stock.outline
    assert doubts(alone) == (
        "whether first.nc and first.toml are still what it came from: the sheet was handed in alone",
    )


def test_nothing_is_invented_where_nothing_is_known_to_be_left(tmp_path: Path) -> None:
    with pytest.raises(VerifierError, match="nothing is known to be left"):
        stock_left(examined((HEAD + STEP + END).encode()).side, Origin("a", "b", None))
    with pytest.raises(VerifierError, match="2 pieces"):
        parted = "G00 X100.\nT0303\nG00 X62. Z{}.\nG01 X-0.2 F0.05\nG00 X62.\n"
        written(tmp_path, parted.format(-20) + parted.format(-50))


def test_the_command_names_the_files_as_they_lie_to_the_one_it_writes(tmp_path: Path) -> None:
    written(tmp_path, STEP)
    (tmp_path / "deep").mkdir()
    words = ["check", str(tmp_path / "first.nc"), "--setup", str(tmp_path / "first.toml"), "--stock-out"]
    done = CliRunner().invoke(main, [*words, str(tmp_path / "deep" / "left.toml")])
    assert done.exit_code in (0, 1), done.output
    assert doubts(second(tmp_path, file="deep/left.toml")) == ()
    assert 'program = "../first.nc"' in (tmp_path / "deep" / "left.toml").read_text("utf-8")
    refused = CliRunner().invoke(main, ["check", "-", "--stock-out", str(tmp_path / "x.toml")], input=HEAD + END)
    assert refused.exit_code == 2 and "standard input" in refused.output
    refused = CliRunner().invoke(main, [*words, str(tmp_path / "first.toml")])
    assert refused.exit_code == 2 and "one of the files" in refused.output
