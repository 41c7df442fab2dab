"""What lies outside the texts: every difference that no edit made names the key of the profile or the setup sheet that did."""

from __future__ import annotations

from dataclasses import fields, replace
from fractions import Fraction
from functools import reduce
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.properties.programs import SHOP, machine, shop_programs
from tests.properties.sizes import few
from verifier.compare.outside_keys import Outside, differing, with_key
from verifier.findings import Status
from verifier.machines import FrozenMap, Machine, Setup, generic_lathe, load_setup
from verifier.report import ChangeReport, review, to_text

NORTH, DOCK = machine("north-lathe"), machine("dock-lathe")
KEYS = differing("profile", NORTH, DOCK)
PROGRAMS = shop_programs()


def moved(keys: list[Outside]) -> Machine:
    """The north lathe with some keys of the dock lathe."""
    return reduce(lambda made, key: with_key(made, DOCK, key.path) or made, keys, NORTH)


def told(report: ChangeReport) -> list[set[str]]:
    """The keys that each finding about the change names."""
    return [{report.outside[k].key for k in f.outside} for f in report.findings if f.status is not Status.STANDING]


def test_all_keys_together_are_the_whole_difference() -> None:
    made = moved(list(KEYS))
    for field in fields(Machine):
        if field.name not in ("name", "title", "digest", "verified"):
            assert getattr(made, field.name) == getattr(DOCK, field.name), field.name
    assert differing("profile", made, DOCK) == () and len({key.key for key in KEYS}) == len(KEYS) > 20


@few(5)
@given(st.sampled_from(PROGRAMS), st.sets(st.integers(0, len(KEYS) - 1), min_size=1, max_size=5))
def test_every_difference_between_two_profiles_names_a_key_that_differs(path: Path, chosen: set[int]) -> None:
    keys = [KEYS[k] for k in sorted(chosen)]
    try:
        other = moved(keys)
        data = path.read_bytes()
        report = review(data, data, machine=other, old_machine=NORTH)
    except (KeyError, ValueError):  # keys that contradict the rest of that profile
        return
    assert {key.key for key in report.outside} == {key.key for key in keys}
    for finding, named in zip(
        (f for f in report.findings if f.status is not Status.STANDING), told(report), strict=True
    ):
        assert named, finding.title
    back = review(data, data, machine=NORTH, old_machine=other)
    assert sorted(map(sorted, told(back))) == sorted(map(sorted, told(report)))
    assert [(k.key, k.after, k.before) for k in back.outside] == [(k.key, k.before, k.after) for k in report.outside]


@pytest.mark.parametrize("path", [p for p in PROGRAMS if p.name == "base.nc"], ids=lambda path: path.parts[-2])
def test_a_job_on_the_other_lathe_has_a_cause_for_every_finding_and_a_card_for_every_cause(path: Path) -> None:
    data = path.read_bytes()
    report = review(data, data, machine=DOCK, old_machine=NORTH)
    assert report.old_machine is not None and len(report.outside) == len(KEYS)
    assert all(told(report)) and all(card.outside for card in report.cards)
    assert len({card.outside for card in report.cards}) == len(report.cards)


LATHE = generic_lathe()
POINTLESS = b"O1\nG21 G99 G97 S800 M03\nT0101\nG00 X60. Z2.\nG01 Z-10 F0.2\nG00 X100. Z50.\nM30\n"


def chosen(**choices: str) -> Machine:
    changed = {name.replace("_", "-"): value for name, value in choices.items()}
    return replace(LATHE, choices=FrozenMap({**LATHE.choices, **changed}), digest=str(choices))


def test_the_one_key_that_does_it_is_named_among_others_that_do_nothing() -> None:
    spindle = replace(LATHE.spindle, power_kw=Fraction(3))
    other = replace(chosen(number_without_point="whole-units"), spindle=spindle, tool_change_seconds=Fraction(9))
    report = review(POINTLESS, POINTLESS, machine=other, old_machine=LATHE)
    assert {key.key for key in report.outside} == {
        "choices.number-without-point",
        "spindle.power_kw",
        "tool_change_seconds",
    }
    assert report.verdict == "changed behaviour"
    assert told(report) and all(named == {"choices.number-without-point"} for named in told(report))
    (card,) = [card for card in report.cards if card.outside]
    assert report.outside[card.outside[0]].told.endswith("was least-increments; now whole-units")


def test_an_edit_beside_another_profile_keeps_its_own_findings() -> None:
    report = review(
        POINTLESS,
        POINTLESS.replace(b"F0.2", b"F0.4"),
        machine=chosen(number_without_point="whole-units"),
        old_machine=LATHE,
    )
    by_rule = {f.rule: (f.edits, f.outside) for f in report.findings if f.status is Status.CHANGE}
    assert by_rule == {"feed-changed": ((0,), ()), "position-changed": ((0,), (0,))}
    assert "made by these as well: profile, choices.number-without-point" in to_text(report)


KEPT = b"O1\nG21 G99 G97 S800 M03\nT0101\nG00 X60. Z2.\nG01 Z#500 F0.2\nG00 X100. Z50.\nM30\n"


def sheet(**changes: object) -> Setup:
    usual = load_setup(SHOP / "setups" / "drive-shaft.toml", NORTH)
    return replace(usual, **changes, digest=repr(sorted(changes)))


def test_a_variable_that_the_setter_sets_otherwise_is_named_with_its_key() -> None:
    one, other = (sheet(variables=FrozenMap({500: Fraction(depth)})) for depth in (-10, -12))
    other = replace(other, digest="other")
    report = review(KEPT, KEPT, machine=NORTH, setup=other, old_setup=one)
    assert report.verdict == "changed behaviour"
    assert [key.told for key in report.outside] == ["setup sheet, variables.500: was -10; now -12"]
    assert told(report) and all(named == {"variables.500"} for named in told(report))


def test_a_hazard_that_only_the_new_sheet_makes_is_laid_to_its_key() -> None:
    """A chuck with a lower speed limit: the program stands as it was, and is too fast for it."""
    holding = sheet().work_holding
    assert holding is not None
    data = (SHOP / "programs" / "drive-shaft" / "base.nc").read_bytes()
    slow = sheet(work_holding=replace(holding, max_rpm=Fraction(900)))
    report = review(data, data, machine=NORTH, setup=slow, old_setup=sheet())
    assert report.verdict == "same behaviour"
    news = [f for f in report.findings if f.status is Status.NEW]
    assert news and report.sign_off.required
    assert all(named == {"work_holding.max_rpm"} for named in told(report) if named)
    assert all(finding.outside for finding in news)


def test_a_sheet_where_there_was_none_is_one_key() -> None:
    report = review(KEPT, KEPT, machine=NORTH, setup=sheet(variables=FrozenMap({500: Fraction(-10)})), old_setup=None)
    assert report.old_setup is None and report.outside == ()  # one sheet was given: it is that of both sides


def test_the_same_program_on_the_same_machine_has_nothing_outside() -> None:
    assert review(KEPT, KEPT, machine=NORTH).outside == ()
    renamed = replace(NORTH, name="south-lathe", title="The other one", digest="renamed")
    report = review(KEPT, KEPT, machine=renamed, old_machine=NORTH)
    assert report.verdict in ("same behaviour", "undetermined") and report.outside == () and told(report) == []
