"""What sheets and profiles say about load and surface: every mistake with its key, exact units, written out and read back."""

from fractions import Fraction
from pathlib import Path

import pytest

from verifier.machines import MATERIALS, Setup, load_machine, load_setup, machine_text, setup_text
from verifier.source import MachineError


def load(folder: Path, text: str, units: str = "mm") -> Setup:
    path = folder / "sheet.toml"
    path.write_text(f'name = "job"\nunits = "{units}"\n{text}', "utf-8")
    return load_setup(path, None)


WHOLE = """
[material]
designation = "42CrMo4"
[[roughness]]
ra_um = 3.2
[[roughness]]
ra_um = 0.8
axis = "X"
nominal = 40
[[roughness]]
ra_um = 1.6
sequence = 2
[work_holding]
kind = "chuck"
grips = "outside"
[work_holding.grip]
at_rest = 60000
needed = 15000
[[work_holding.grip.jaws]]
count = 3
mass = 5.33
radius = 107
[tools.1]
kind = "turning"
feed_maximum = 0.5
depth_maximum = 5
force_maximum = 4000
"""


def test_a_whole_sheet_is_read_as_it_stands(tmp_path: Path) -> None:
    setup = load(tmp_path, WHOLE)
    assert setup.material is not None and setup.work_holding is not None and setup.work_holding.grip is not None
    assert (setup.material.kc11, setup.material.mc) == (2500, Fraction("0.26"))
    assert [(r.ra, r.axis, r.nominal, r.sequence) for r in setup.roughness] == [
        (Fraction("3.2"), None, None, None),
        (Fraction("0.8"), "X", 40, None),
        (Fraction("1.6"), None, None, 2),
    ]
    assert setup.work_holding.grip.jaw_moment == 3 * Fraction("5.33") * Fraction("0.107")
    tool = setup.tools[1]
    assert (tool.feed_maximum, tool.depth_maximum, tool.force_maximum) == (Fraction(1, 2), 5, 4000)


@pytest.mark.parametrize("units", ["mm", "inch"])
def test_it_is_written_out_and_reads_back(tmp_path: Path, units: str) -> None:
    setup = load(tmp_path, WHOLE, units)
    (tmp_path / "written.toml").write_text(setup_text(setup), "utf-8")
    assert load_setup(tmp_path / "written.toml", None) == setup


def test_lengths_are_in_the_units_of_the_file_forces_and_ra_in_their_own(tmp_path: Path) -> None:
    setup = load(tmp_path, WHOLE.replace("ra_um = 3.2", "ra_uin = 125"), "inch")
    assert setup.tools[1].depth_maximum == 127 and setup.tools[1].force_maximum == 4000
    # ISO 1302 and ASME Y14.36 give 125 microinches and 3.2 micrometres (3.175) for the same grade.
    assert setup.roughness[0].ra == Fraction("3.175") and setup.roughness[1].nominal == 1016
    assert setup.work_holding is not None and setup.work_holding.grip is not None
    assert setup.work_holding.grip.jaw_moment == 3 * Fraction("5.33") * Fraction("0.107") * Fraction("25.4")


def test_values_of_the_sheet_come_before_the_table(tmp_path: Path) -> None:
    material = load(tmp_path, '[material]\ndesignation = "C45E"\nkc11 = 2300\nmc = 0.15').material
    assert material is not None and (material.designation, material.kc11) == ("C45E", 2300)
    own = load(tmp_path, "[material]\nkc11 = 700\nmc = 0.25").material
    assert own is not None and own.designation == ""


@pytest.mark.parametrize(
    ("text", "line"),
    [
        (
            "[material]\ndesignation = '42CrMo'",
            f'material.designation: got "42CrMo", expected one of {", ".join(MATERIALS)}; or kc11 and mc beside it'
            " (did you mean 42CrMo4?)",
        ),
        ("[material]", "material.designation: got nothing, expected a designation, or kc11 and mc"),
        ("[material]\nkc11 = 2000", "material.mc: got nothing, expected a value beside kc11"),
        ("[material]\nmc = 0.2", "material.kc11: got nothing, expected a value beside mc"),
        ("[material]\nkc11 = 2.5\nmc = 0.2", "material.kc11: got 2.5, expected a force in N/mm2, 50 to 20000"),
        ("[material]\nkc11 = 2500\nmc = 26", "material.mc: got 26, expected a number above 0, 1 at most"),
        ("[[roughness]]\nsequence = 2", "roughness.0.ra_um: got nothing, expected Ra in micrometres"),
        ("[[roughness]]\nra_um = 1\nra_uin = 40", "roughness.0.ra_uin: got 40, expected nothing beside ra_um"),
        ("[[roughness]]\nra_um = 1\naxis = 'X'", "roughness.0.nominal: got nothing, expected a value beside axis"),
        ("[[roughness]]\nra_um = 1\nnominal = 4", "roughness.0.axis: got nothing, expected a value beside nominal"),
        (
            "[[roughness]]\nra_um = 1\naxis = 'X'\nnominal = 4\nsequence = 1",
            "roughness.0.sequence: got 1, expected nothing beside a surface",
        ),
        (
            "[[roughness]]\nra_um = 1\naxis = 'X'\nnominal = 0",
            "roughness.0.nominal: got 0, expected a diameter above 0 for axis X",
        ),
        (
            "[work_holding]\nkind = 'chuck'\n[work_holding.grip]\nat_rest = 9\njaw_moment = 1",
            "work_holding.grips: got nothing, expected",
        ),
        (
            "[work_holding]\nkind = 'chuck'\ngrips = 'outside'\n[work_holding.grip]\nat_rest = 9",
            "work_holding.grip.jaw_moment: got nothing, expected the moment of the jaws",
        ),
        (
            "[work_holding]\nkind = 'chuck'\ngrips = 'outside'\n[work_holding.grip]\nat_rest = 9\njaw_moment = 1\nneeded = 9",
            "work_holding.grip.needed: got 9, expected less than at_rest, 9",
        ),
        (
            "[tools.1]\nkind = 'turning'\nfeed_minimum = 0.2\nfeed_maximum = 0.1",
            "tools.1.feed_maximum: got 0.1, expected not below feed_minimum, 0.2",
        ),
    ],
)
def test_a_mistake_is_one_line(tmp_path: Path, text: str, line: str) -> None:
    with pytest.raises(MachineError) as caught:
        load(tmp_path, text)
    found = [entry.removeprefix(str(tmp_path / "sheet.toml") + ": ") for entry in caught.value.mistakes]
    assert len(found) == 1 and found[0].startswith(line), found


SPINDLE = "[spindle]\nefficiency = 0.8\nbase_rpm = 900\ntorque_nm = 180\n"


def profile(folder: Path, text: str) -> Path:
    path = folder / "other.toml"
    path.write_text(f'name = "other"\nextends = "generic-lathe"\n{text}', "utf-8")
    return path


def test_a_spindle_says_how_much_of_its_power_arrives(tmp_path: Path) -> None:
    path = profile(tmp_path, SPINDLE + "power_kw = 15\n")
    machine = load_machine(path)
    told = (machine.spindle.efficiency, machine.spindle.base_rpm, machine.spindle.torque_nm)
    assert told == (Fraction(4, 5), 900, 180)
    path.write_text(machine_text(machine), "utf-8")
    assert load_machine(path) == machine


def test_mistakes_of_a_spindle(tmp_path: Path) -> None:
    wrong = "[spindle]\nefficiency = 80\nbase_rpm = 9000\nmax_rpm = 4000\n"
    with pytest.raises(MachineError) as caught:
        load_machine(profile(tmp_path, wrong))
    assert sorted(line.split("other.toml: ")[1] for line in caught.value.mistakes) == [
        "spindle.base_rpm: got 9000, expected a speed below max_rpm, 4000",
        "spindle.efficiency: got 80, expected a number above 0, 1 at most",
        "spindle.power_kw: got nothing, expected the power that is there from base_rpm on",
    ]
