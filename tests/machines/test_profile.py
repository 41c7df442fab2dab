"""Profiles: every mistake in one run, one level of extending, exact units, and a digest of the content alone."""

import random
from datetime import date
from fractions import Fraction
from importlib import resources
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from verifier.machines import CHOICES, Machine, generic_lathe, load_machine
from verifier.source import MachineError

SHOP = Path(__file__).parents[2] / "fixtures" / "shop" / "machines"
GENERIC = resources.files("verifier.machines").joinpath("generic-lathe.toml").read_text("utf-8")


def load(folder: Path, text: str, name: str = "lathe.toml") -> Machine:
    path = folder / name
    path.write_text(text, "utf-8")
    return load_machine(path)


def mistakes(folder: Path, text: str) -> list[str]:
    with pytest.raises(MachineError) as caught:
        load(folder, text)
    return [line.removeprefix(str(folder / "lathe.toml") + ": ") for line in caught.value.mistakes]


def extending(text: str) -> str:
    return 'name = "lathe-7"\nextends = "generic-lathe"\n' + text


def test_generic_lathe_is_what_is_promised_when_no_machine_is_named() -> None:
    machine = generic_lathe()
    assert (machine.code_set, machine.power_on["units"], machine.axes["X"].diameter) == ("A", "G21", True)
    assert (machine.increments.mm, machine.increments.inch) == (Fraction(1, 1000), Fraction(1, 10_000))
    assert machine.choice("number-without-point") == "least-increments"
    assert machine.choice("rapid-path") == "straight"
    assert "units" in machine.reset_restores
    assert not machine.verified and not any(machine.is_verified(name) for name in CHOICES)


def test_generic_lathe_takes_the_first_value_of_every_choice() -> None:
    assert dict(generic_lathe().choices) == {name: row.values[0] for name, row in CHOICES.items()}


def test_a_name_that_is_no_choice_is_an_error_of_the_caller() -> None:
    with pytest.raises(KeyError):
        generic_lathe().choice("colour")
    with pytest.raises(KeyError):
        generic_lathe().is_verified("colour")


FIVE = """
turret = "middle"
[axes.Z]
rapid = -5
[choices]
number-without-point = "least-increment"
rapid-paths = "straight"
[spindle]
max_rmp = 4000
"""


def test_five_mistakes_make_five_lines_each_with_its_key_and_the_near_miss(tmp_path: Path) -> None:
    assert sorted(mistakes(tmp_path, extending(FIVE))) == [
        "axes.Z.rapid: got -5, expected a number above 0",
        'choices.number-without-point: got "least-increment", expected one of least-increments, whole-units'
        " (did you mean least-increments?)",
        "choices.rapid-paths: got an unknown key, expected one of "
        + ", ".join(CHOICES)
        + " (did you mean rapid-path?)",
        "spindle.max_rmp: got an unknown key, expected one of base_rpm, efficiency, max_rpm, power_kw, start_seconds,"
        " stop_seconds, torque_nm, work_holding_limit_rpm"
        " (did you mean max_rpm?)",
        'turret: got "middle", expected one of rear, front',
    ]


def test_the_lines_name_the_file(tmp_path: Path) -> None:
    path = tmp_path / "lathe.toml"
    path.write_text(extending('turret = "middle"'), "utf-8")
    with pytest.raises(MachineError, match=r"lathe\.toml: turret: got"):
        load_machine(path)


ONE_MISTAKE = {
    "wrong type": ("tool_change_seconds = '2'", 'tool_change_seconds: got "2", expected a number'),
    "true is no number": ("longest_block = true", "longest_block: got true, expected a whole number"),
    "no code that calls": ("[calls]\nX5 = 9010", 'calls.X5: got "X5", expected a G or M code such as G101 or M96'),
    "a code that calls and is needed": (
        "[calls]\nG1 = 9010",
        "calls.G1: got G1, expected a code that no program needs for itself",
    ),
    "a label call that is needed": (
        "label_calls = [98]",
        "label_calls: got 98, expected an M code that no program needs for itself",
    ),
    "infinite": ("tool_change_seconds = inf", "tool_change_seconds: got Infinity, expected a number of at most 30"),
    "not a number": ("tool_change_seconds = nan", "tool_change_seconds: got NaN, expected a number of at most 30"),
    "absurd": ("tool_change_seconds = 1e999999", "tool_change_seconds: got 1E+999999, expected a number of at most"),
    "name": ("title = ''", 'title: got "", expected text that is not empty'),
    "travel": (
        "[axes.X]\nminimum = 5\nmaximum = -5",
        "axes.X.minimum: got 5, expected a number below the maximum, -5",
    ),
    "tool change beyond travel": (
        "[axes.X]\nmaximum = 0\n[tool_change_position]\nX = 10",
        "tool_change_position.X: got 10, expected a position within the travel",
    ),
    "position of no axis": ("[reference]\nY = 0", "reference.Y: got 0, expected an axis of this machine: X, Z"),
    "axis": ("[axes.Q]\nrapid = 1\nacceleration = 1", 'axes.Q: got "Q", expected one of X, Z, Y, B, C'),
    "code of another set": ("[power_on]\nfeed-mode = 'G95'", 'power_on.feed-mode: got "G95", expected one of G98, G99'),
    "distance mode in set A": (
        "[power_on]\ndistance = 'G90'",
        'power_on.distance: got "G90", expected nothing: code set A has no codes of this group',
    ),
    "distance mode that is none": (
        "code_set = 'B'\n[power_on]\nfeed-mode = 'G95'\ndistance = 'G92'",
        'power_on.distance: got "G92", expected one of G90, G91',
    ),
    "not a code": ("[power_on]\nmotion = 'fast'", 'power_on.motion: got "fast", expected a G code such as G01'),
    "units mixed": ("units = 'inch'", 'units: got "inch", expected "mm", as in the profile it extends'),
    "built-in meaning": (
        "[m_codes.3]\nmeaning = 'chuck open'",
        'm_codes.3.meaning: got "chuck open", expected nothing',
    ),
    "reserved meaning": (
        "[m_codes.50]\nmeaning = 'stop'\nweight = 'major'",
        'm_codes.50.meaning: got "stop", expected a meaning that no built-in code has',
    ),
    "code without weight": ("[m_codes.50]\nmeaning = 'door open'", "m_codes.50.weight: got nothing, expected a value"),
    "code twice": (
        "[m_codes.50]\nmeaning = 'a'\nweight = 'minor'\n[m_codes.050]\nmeaning = 'a'\nweight = 'minor'",
        "m_codes.050: got the same code again, expected one table, as in m_codes.50",
    ),
    "order said twice": (
        "[m_codes.5]\nwhen = 'before-motion'",
        'm_codes.5.when: got "before-motion", expected "after-motion", as the choice m-after-motion says',
    ),
    "unknown state": (
        "[[never_together]]\nspindle = 'foward'\ncoolant = 'on'",
        'never_together.0.spindle: got "foward", expected one of forward, reverse, stopped (did you mean forward?)',
    ),
    "unknown auxiliary": (
        "[[never_together]]\nspindel = 'forward'\ncoolant = 'on'",
        "never_together.0.spindel: got an unknown key, expected one of spindle, coolant (did you mean spindle?)",
    ),
    "pair of one": ("[[never_together]]\nspindle = 'forward'", "never_together.0: got 1 names, expected two"),
    "list of nothing": ("[[never_together]]\nspindle = []\ncoolant = 'on'", "never_together.0.spindle: got []"),
    "range backwards": ("[variables]\nkept = [999, 500]", "variables.kept: got [999, 500], expected the first number"),
    "ranges overlap": ("[variables]\nlocal = [1, 33]\ncommon = [30, 60]", "variables.common: got [30, 60], expected"),
    "verified what": (
        "[verified.rapid-pat]\nby_role = 'lead'\non = 2026-01-02",
        'verified.rapid-pat: got "rapid-pat", expected one of number-without-point',
    ),
    "verified when": (
        "[verified.rapid-path]\nby_role = 'lead'\non = 'today'",
        'verified.rapid-path.on: got "today", expected a date such as 2026-03-02',
    ),
}


@pytest.mark.parametrize("case", ONE_MISTAKE)
def test_a_mistake_is_one_line_that_names_key_value_and_what_was_expected(tmp_path: Path, case: str) -> None:
    text, line = ONE_MISTAKE[case]
    found = mistakes(tmp_path, extending(text))
    assert len(found) == 1
    assert found[0].startswith(line)


def test_contradictions_are_found_beside_mistakes_in_the_same_table(tmp_path: Path) -> None:
    found = mistakes(tmp_path, extending("[axes.X]\nminimum = 5\nmaximum = -5\nrapid = 'fast'"))
    assert [line.split(":")[0] for line in found] == ["axes.X.rapid", "axes.X.minimum"]


def test_a_file_of_its_own_must_be_whole(tmp_path: Path) -> None:
    keys = [line.split(": ")[0] for line in mistakes(tmp_path, 'name = "lathe-7"')]
    whole = {"kind", "code_set", "turret", "units", "axes", "increments", "spindle", "tool_change_seconds"}
    assert set(keys) == whole | {"power_on", "reset_restores", "end_resets"}


def test_every_group_axis_and_end_must_be_given(tmp_path: Path) -> None:
    text = GENERIC.replace('plane = "G18"\n', "").replace("M99 = []\n", "").replace("[axes.Z]", "[axes.Y]")
    assert sorted(line.split(": ")[0] for line in mistakes(tmp_path, text)) == [
        "axes.Z",
        "end_resets.M99",
        "power_on.plane",
    ]


@pytest.mark.parametrize("text", ["name = ", "a = [" * 5000, "a = 1\na = 2", "n = " + "9" * 5000])
def test_text_that_is_not_toml_is_one_line(tmp_path: Path, text: str) -> None:
    assert len(mistakes(tmp_path, text)) == 1


def test_bytes_that_are_not_text_a_missing_file_and_a_folder_are_one_line_each(tmp_path: Path) -> None:
    (tmp_path / "bytes.toml").write_bytes(b"\xff\xfe\x00")
    for name in ("bytes.toml", "missing.toml", "."):
        with pytest.raises(MachineError) as caught:
            load_machine(tmp_path / name)
        assert len(caught.value.mistakes) == 1


@pytest.mark.parametrize("name", ["generic-lath", "missing.toml", "../lathe.toml", "/etc/hosts", "lathe"])
def test_extends_must_name_a_built_in_or_a_file_beside(tmp_path: Path, name: str) -> None:
    found = mistakes(tmp_path, f'name = "lathe-7"\nextends = "{name}"\nturret = "middle"')
    assert found[0].startswith(f'extends: got "{name}", expected a built-in profile (generic-lathe)')
    assert found[1].startswith('turret: got "middle"') and len(found) == 2
    assert ("did you mean generic-lathe?" in found[0]) == (name == "generic-lath")


def test_extends_goes_one_level_and_no_further(tmp_path: Path) -> None:
    (tmp_path / "group.toml").write_text(extending(""), "utf-8")
    found = mistakes(tmp_path, 'name = "lathe-8"\nextends = "group.toml"')
    assert found == ['extends: got "group.toml", expected a profile that does not itself extend another']


def test_mistakes_of_the_extended_file_are_told_with_its_name_beside_those_of_the_file(tmp_path: Path) -> None:
    (tmp_path / "group.toml").write_text(GENERIC.replace('turret = "rear"', 'turret = "middle"'), "utf-8")
    (tmp_path / "lathe.toml").write_text('name = "a"\nextends = "group.toml"\nlongest_block = 0', "utf-8")
    with pytest.raises(MachineError) as caught:
        load_machine(tmp_path / "lathe.toml")
    first, second = caught.value.mistakes[0], caught.value.mistakes[-1]
    assert first.startswith(f"{tmp_path / 'group.toml'}: turret: got")
    assert second.startswith(f"{tmp_path / 'lathe.toml'}: longest_block: got 0")


def test_a_profile_that_extends_needs_a_name_of_its_own(tmp_path: Path) -> None:
    assert mistakes(tmp_path, 'extends = "generic-lathe"')[0].startswith("name: got nothing")


def test_tables_join_key_by_key_and_lists_replace(tmp_path: Path) -> None:
    machine = load(tmp_path, extending('reset_restores = ["units"]\n[axes.X]\nmaximum = 0\n[spindle]\nmax_rpm = 100'))
    usual = generic_lathe()
    assert machine.axes["X"].maximum == 0 and machine.axes["X"].rapid == usual.axes["X"].rapid
    assert machine.axes["Z"] == usual.axes["Z"]
    assert machine.spindle.max_rpm == 100 and machine.spindle.start_seconds == usual.spindle.start_seconds
    assert machine.reset_restores == ("units",)


def test_what_was_verified_at_one_machine_is_not_inherited_by_another(tmp_path: Path) -> None:
    seen = "[verified.rapid-path]\nby_role = 'lead'\non = 2026-01-02\n"
    base = load(tmp_path, GENERIC + seen, "group.toml")
    machine = load(tmp_path, 'name = "lathe-7"\nextends = "group.toml"')
    assert base.is_verified("rapid-path") and base.verified["rapid-path"].on == date(2026, 1, 2)
    assert not machine.is_verified("rapid-path")


def test_an_extended_profile_is_the_same_machine_as_the_one_written_out(tmp_path: Path) -> None:
    short = load(tmp_path, extending("title = 'x'\n[spindle]\nmax_rpm = 100"))
    text = GENERIC.replace('"generic-lathe"', '"lathe-7"').replace("max_rpm = 4000", "max_rpm = 100.0")
    text = "\n".join("title = 'x'" if line.startswith("title") else line for line in text.splitlines())
    assert load(tmp_path, text, "whole.toml") == short


def test_lengths_of_an_inch_profile_are_exact_millimetres() -> None:
    machine = load_machine(SHOP / "dock-lathe.toml")
    assert machine.axes["X"].minimum == Fraction("-13.5") * Fraction("25.4")
    assert machine.axes["X"].rapid == 300 * Fraction("25.4")
    assert machine.cycles.rough_retract_mm == Fraction("0.508")
    assert machine.tool_change_position["Z"] == Fraction("-50.8")
    assert machine.increments.inch == Fraction(1, 10_000)
    assert machine.cycles.thread_pull_out_leads == Fraction(1, 2)


def test_the_two_lathes_of_the_demo_shop_differ_where_lathes_do() -> None:
    metric, inch = load_machine(SHOP / "north-lathe.toml"), load_machine(SHOP / "dock-lathe.toml")
    assert (metric.turret, metric.power_on["units"], metric.choice("number-without-point")) == (
        "rear",
        "G21",
        "least-increments",
    )
    assert (inch.turret, inch.power_on["units"], inch.choice("number-without-point")) == ("front", "G20", "whole-units")
    for machine in (metric, inch):
        assert (("chuck", "open"), ("spindle", "forward")) in machine.never_together
        assert machine.is_verified("number-without-point") and not machine.is_verified("dwell-p")


def test_the_choice_about_m_after_motion_moves_both_codes_it_is_about() -> None:
    inch, metric = load_machine(SHOP / "dock-lathe.toml"), load_machine(SHOP / "north-lathe.toml")
    assert {inch.m_codes[code].when for code in (5, 9)} == {"before-motion"}
    assert {metric.m_codes[code].when for code in (5, 9)} == {"after-motion"}


def test_a_built_in_code_keeps_all_but_when(tmp_path: Path) -> None:
    machine = load(tmp_path, extending("[m_codes.08]\nwhen = 'before-motion'"))
    assert machine.m_codes[8].when == "before-motion"
    assert machine.m_codes[8].sets == (("coolant", "on"),)


@settings(deadline=None)
@given(order=st.randoms(use_true_random=False))
def test_digest_does_not_depend_on_order_comments_or_spelling_of_numbers(
    tmp_path_factory: pytest.TempPathFactory, order: random.Random
) -> None:
    text = (SHOP / "dock-lathe.toml").read_text("utf-8")
    head, *tables = text.split("\n[")
    keys = [line for line in head.splitlines() if line and not line.startswith("#")]
    order.shuffle(keys)
    order.shuffle(tables)
    mixed = "\n# shuffled\n".join(keys) + "".join("\n[" + table for table in tables)
    mixed = mixed.replace("max_rpm = 3200", "max_rpm   = 3.2e3 # fast").replace('motion = "G00"', 'motion = "G0"')
    folder = tmp_path_factory.getbasetemp()
    assert load(folder, mixed, "other-name.toml") == load_machine(SHOP / "dock-lathe.toml")


@pytest.mark.parametrize(
    "text",
    [
        "title = 'other'",
        "tool_change_seconds = 2.1",
        "longest_block = 80",
        "[choices]\nrapid-path = 'each-axis'",
        "[axes.X]\nmaximum = 1",
        "[m_codes.50]\nmeaning = 'a'\nweight = 'minor'",
        "[verified.rapid-path]\nby_role = 'lead'\non = 2026-01-02",
        "reset_restores = []",
        "[cycles]\nthread_angle = 60",
        "[spindle]\nefficiency = 0.8",
        "[spindle]\ntorque_nm = 200",
        "[spindle]\nstop_seconds = 3",
        "[variables]\nkept = [500, 599]",
        "g_codes_off = ['G76']",
        "[calls]\nG101 = 9010",
        "label_calls = [97]",
    ],
)
def test_digest_changes_with_any_content(tmp_path: Path, text: str) -> None:
    assert load(tmp_path, extending(text)).digest != load(tmp_path, extending("")).digest


def test_digest_is_stable_over_versions_of_this_package() -> None:
    # A digest stands in every sign-off: where this line must change, old sign-offs on the generic lathe no longer count.
    assert generic_lathe().digest == "8aaf16d2fa30a885f76fe85c666ee48e3713a431111b72791ef48ec20b1d4040"
