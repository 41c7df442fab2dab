"""An edit at the control and one in the office: told apart at the desk, and what a release would take away is known beforehand."""

from __future__ import annotations

import pytest

from tests.desk.conftest import add
from tests.desk.test_proven import at_machine, confirm, hand_in, step
from verifier import records
from verifier.desk import Desk
from verifier.records import ReadbackFacts, RevisionFacts
from verifier.report import three_way
from verifier.report.three_way import ALIKE, COLLIDE, EDIT, MACHINE
from verifier.source import ActRefused, SourceRefused

RELEASED = step("F0.2")


def changed(feed: str = "F0.2", speed: str = "S2000", z: str = "Z-20.") -> bytes:
    return step(feed, speed).replace(b"Z-20.", z.encode())


def office_and_control(desk: Desk, office: bytes, control: bytes) -> tuple[RevisionFacts, ReadbackFacts]:
    """What is released was proven; then somebody edits at the control while a programmer submits another edit."""
    first = at_machine(desk, RELEASED)
    confirm(desk, first)
    waits = hand_in(desk, office)
    return waits, desk.readback("otto", "lathe", first, control)


@pytest.mark.parametrize(
    ("office", "control", "kinds"),
    [
        (changed("F0.25"), changed(speed="S1500"), [MACHINE, EDIT]),
        (changed("F0.25"), changed("F0.15"), [COLLIDE]),
        (changed("F0.25"), changed("F0.250"), [ALIKE]),
        (changed("F0.25", "S1800"), changed("F0.15", "S1800"), [ALIKE, COLLIDE]),
        (changed("F0.25"), changed(z="Z-19."), [COLLIDE]),
    ],
)
def test_each_place_is_laid_to_the_office_or_the_machine(
    desk: Desk, office: bytes, control: bytes, kinds: list[str]
) -> None:
    waits, back = office_and_control(desk, office, control)
    assert desk.waiting_beside(back) == (waits,) and desk.came_back_otherwise(waits) == (back,)
    found = desk.who_changed_what(back, waits)
    assert [one.kind for one in found.changed] == kinds
    alone = three_way(RELEASED, office, control, machine=desk.profile("lathe"))
    assert [one.kind for one in alone.changed] == kinds and bool(found.lost) == bool({MACHINE, COLLIDE} & {*kinds})


def test_beside_nothing_that_waits_there_is_nothing_to_tell(desk: Desk) -> None:
    waits, back = office_and_control(desk, changed("F0.25"), changed("F0.15"))
    desk.withdraw("pia", waits, "not now")
    assert desk.waiting_beside(back) == ()
    with pytest.raises(ActRefused, check=lambda error: error.code == "readback_of_another"):
        desk.who_changed_what(back, waits)


def test_the_edit_of_the_control_itself_is_not_held_against_itself(desk: Desk) -> None:
    waits, back = office_and_control(desk, changed("F0.25"), changed("F0.15"))
    same = desk.submit("otto", "O7", "lathe", changed("F0.15"), "cut well").revision
    assert desk.waiting_beside(back) == (waits,)
    assert desk.came_back_otherwise(same) == () and desk.came_back_otherwise(waits) == (back,)
    newer = hand_in(desk, changed("F0.3"))
    assert desk.waiting_beside(back) == (newer, waits), "the newest first"


def test_once_the_control_sends_back_the_release_nothing_would_be_lost(desk: Desk) -> None:
    waits, back = office_and_control(desk, changed("F0.25"), changed("F0.15"))
    equal = desk.readback("otto", "lathe", records.revision(desk.shop, back.revision), RELEASED)
    assert equal.equal and desk.came_back_otherwise(waits) == () and desk.waiting_beside(equal) == ()
    with pytest.raises(ActRefused, check=lambda error: error.code == "readback_equal"):
        desk.who_changed_what(equal, waits)


def test_what_is_no_program_is_refused_as_such(desk: Desk) -> None:
    waits, back = office_and_control(desk, changed("F0.25"), b"\x7fELF" + bytes(60))
    assert not back.equal and desk.came_back_otherwise(waits) == (back,)
    with pytest.raises(SourceRefused):
        desk.who_changed_what(back, waits)


def test_what_came_back_from_another_machine_of_the_group_warns_and_from_elsewhere_does_not(desk: Desk) -> None:
    add(desk, "left", group="pair")
    add(desk, "right", group="pair")
    first = at_machine(desk, RELEASED, "pair")
    other = at_machine(desk, RELEASED)
    waits = hand_in(desk, changed("F0.25"), "pair")
    back = desk.readback("otto", "right", first, changed("F0.15"))
    desk.readback("otto", "lathe", other, changed("F0.15"))
    assert desk.came_back_otherwise(waits) == (back,)
    assert [one.kind for one in desk.who_changed_what(back, waits).changed] == [COLLIDE]


def test_the_called_programs_of_the_edit_are_what_all_three_run_with(desk: Desk) -> None:
    main = b"O1\nG21 G99 G40\nN1\nT0101\nG97 S500 M03\nG00 X50. Z2. M08\nM98 P2\nG00 X100. Z100.\nM05\nM30\n"

    def bring(name: str, content: bytes) -> RevisionFacts:
        done = desk.submit("pia", name, "lathe", content, "r").revision
        ticked = [one.name for one in records.wanted_ticks(desk.shop, done.id)]
        desk.decide("leo", "240613", done, "approve", "seen", done.report_digest, ticked=ticked)
        return done

    desk.release("leo", bring("O2", b"O2\nG01 Z-10. F0.2\nM99\n"), "go")
    first = bring("O1", main)
    desk.release("leo", first, "go")
    waits = desk.submit("pia", "O1", "lathe", main.replace(b"S500", b"S600"), "r").revision
    found = desk.who_changed_what(desk.readback("otto", "lathe", first, main.replace(b"X100.", b"X90.")), waits)
    assert [one.kind for one in found.changed] == [EDIT, MACHINE]
    assert not any("missing" in title for one in found.changed for title in (*one.edit_does, *one.machine_does))
    assert found.between.verdict == "changed behaviour"
