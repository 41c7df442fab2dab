"""A first submission beside the program that it is most like: the same engine, each at its own machine, and nothing of it is kept."""

from __future__ import annotations

import dataclasses

import pytest

from tests.desk.conftest import SHOP, add, body, profile
from tests.desk.test_nearest import data, edited, hand_in, program
from verifier import records
from verifier.desk import Desk
from verifier.machines import load_setup
from verifier.report import review
from verifier.source import ActRefused


def sheet(part: str) -> bytes:
    return (SHOP / "setups" / f"{part}.toml").read_bytes()


def test_it_is_the_report_that_the_two_programs_give(desk: Desk) -> None:
    first = desk.submit("pia", "O2101", "lathe", body("base.nc"), "first").revision
    other = desk.submit("pia", "O2111", "lathe", body("seal-groove-0.3-smaller.nc"), "a like part").revision
    size = records.checkpoint(desk.shop).size
    found = desk.nearest_to(other)
    assert found is not None
    near, report = found
    assert (near.program, near.target, near.n) == ("O2101", "lathe", 1)
    alone = review(body("base.nc"), body("seal-groove-0.3-smaller.nc"), machine=desk.profile("lathe"))
    assert report.verdict == alone.verdict == "changed behaviour"
    assert [(f.rule, f.title) for f in report.findings] == [(f.rule, f.title) for f in alone.findings]
    assert report.old is not None and (report.old.name, report.new.name) == ("O2101", "O2111")
    assert report.old_machine is None, "both are for one machine"
    assert desk.compared_with(other, first).report.digest == report.digest
    assert records.checkpoint(desk.shop).size == size and records.revision(desk.shop, other.id) == other


def test_each_runs_at_its_own_machine_with_its_own_sheet(desk: Desk) -> None:
    dock = profile("dock-lathe")
    add(desk, "dock", machine=dataclasses.replace(dock, name="dock"))
    part = body("base.nc", "flanged-sleeve")
    first = desk.submit("pia", "O2102", "lathe", part, "first", setup=sheet("flanged-sleeve")).revision
    moved = desk.submit("pia", "O2102", "dock", part, "on the other lathe").revision
    near = desk.near(moved)
    assert near is not None and (near.target, near.percent) == ("lathe", 100)
    report = desk.compared_with(moved, first).report
    assert report.old_machine is not None and report.old_machine.digest == desk.profile("lathe").digest
    assert report.machine.digest == desk.profile("dock").digest and report.setup is None
    own = load_setup(SHOP / "setups" / "flanged-sleeve.toml", desk.profile("lathe"))
    assert report.old_setup is not None and report.old_setup.digest == own.digest
    assert report.outside, "what no edit made is laid to the profile or the sheet"


def test_without_a_like_program_there_is_nothing_to_compare_with(desk: Desk) -> None:
    hand_in(desk, 1001, program(3))
    other = desk.submit("pia", "O1002", "lathe", data(program(4), 1002), "nothing like it").revision
    assert desk.near(other) is None and desk.nearest_to(other) is None


def test_looking_for_it_writes_nothing(desk: Desk) -> None:
    """A page that is only looked at must not wait for the writers, nor they for it."""
    hand_in(desk, 1001, program(3))
    other = desk.submit("pia", "O1002", "lathe", data(edited(program(3), 5), 1002), "like it").revision
    hand_in(desk, 1003, edited(program(3), 2))
    database = desk.shop.database
    before = database.value("SELECT count(*) FROM sketched")
    database.run("PRAGMA query_only=ON")
    try:
        near = desk.near(other)
    finally:
        database.run("PRAGMA query_only=OFF")
    assert near is not None and near.program == "O1001"
    assert database.value("SELECT count(*) FROM sketched") == before


def test_a_sheet_that_no_longer_fits_its_machine_is_refused_with_words(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    from verifier.source import MachineError

    first = desk.submit("pia", "O2101", "lathe", body("base.nc"), "first").revision
    other = desk.submit("pia", "O2111", "lathe", body("seal-groove-0.3-smaller.nc"), "a like part").revision

    def unfit(*_: object) -> None:
        raise MachineError(["stock.length: longer than the travel"])

    monkeypatch.setattr("verifier.desk.desk.Desk._place_of_revision", unfit)
    with pytest.raises(ActRefused, check=lambda error: error.code == "not_comparable") as caught:
        desk.compared_with(other, first)
    assert "O2101 revision 1" in caught.value.message and "longer than the travel" in caught.value.message
