"""A program and what it calls, changed together: checked as they will run together, released in one act or not at all."""

from __future__ import annotations

import pytest

from tests.desk.test_desk import approve, refused
from verifier import records
from verifier.desk import Desk
from verifier.records import RevisionFacts

MAIN = b"O1\nN1 G00 G21 G40 G54 G97 G99\nT0101\nG97 S500 M03\nG00 X50. Z2.\nM98 P2\nG00 X100. Z50.\nM05\nM30\n"
SUB = b"O2\nG01 Z-10. F0.2\nM99\n"
DEEPER = SUB.replace(b"-10.", b"-12.")


def put(desk: Desk, name: str, body: bytes, *beside: str) -> RevisionFacts:
    """Hand in and have approved."""
    return approve(desk, desk.submit("pia", name, "lathe", body, "r", beside=beside).revision)


@pytest.fixture
def running(desk: Desk) -> Desk:
    """A desk at whose lathe a program and the one that it calls stand released."""
    desk.release("leo", put(desk, "O2", SUB), "r")
    desk.release("leo", put(desk, "O1", MAIN), "r")
    return desk


def test_the_calling_program_is_compared_as_both_will_run(running: Desk) -> None:
    desk = running
    sub = desk.submit("pia", "O2", "lathe", DEEPER, "deeper").revision
    alone = desk.reports_on("O1", "lathe", MAIN, None)[0]
    (report,) = desk.reports_on("O1", "lathe", MAIN, None, (sub,))
    assert alone.verdict == "same behaviour"
    assert report.verdict == "changed behaviour"
    assert [sha for _, sha in report.new.called] == [sub.sha]


def test_both_are_released_in_one_act_or_none_is(running: Desk) -> None:
    desk = running
    sub = put(desk, "O2", DEEPER)
    main = put(desk, "O1", MAIN, "O2")
    assert main.state == "cleared" and desk.companions(main) == (sub,)
    assert [one.id for one in desk.belonging(sub)] == [main.id]
    refused("called_not_released", desk.release, "leo", main, "r")
    refused("callers_bind_another", desk.release, "leo", sub, "r")
    done = desk.release("leo", main, "both", [sub])
    assert {(one.program, one.n) for one in done.releases} == {("O1", main.n), ("O2", sub.n)}
    floor = desk.shop.folder / "floor" / "lathe"
    assert {path.read_bytes() for path in floor.glob("O*")} >= {MAIN, DEEPER}
    assert records.verify_ledger(desk.shop.folder).faults == ()


def test_one_that_is_not_cleared_holds_back_both(running: Desk) -> None:
    desk = running
    sub = desk.submit("pia", "O2", "lathe", DEEPER, "deeper").revision
    main = put(desk, "O1", MAIN, "O2")
    refused("not_cleared", desk.release, "leo", main, "r", [sub])
    assert {r.sha for r in records.at_machine(desk.shop, "lathe")} >= {main.sha}
    assert DEEPER not in {path.read_bytes() for path in (desk.shop.folder / "floor" / "lathe").glob("O*")}


def test_what_goes_with_it_has_to_wait_for_release_too(running: Desk) -> None:
    refused("not_open", running.submit, "pia", "O1", "lathe", MAIN + b"\n", "r", beside=("O2",))
    refused("unknown_program", running.submit, "pia", "O1", "lathe", MAIN + b"\n", "r", beside=("O9",))


def test_when_the_called_one_is_taken_back_the_calling_one_is_held_again(running: Desk) -> None:
    desk = running
    sub = put(desk, "O2", DEEPER)
    main = put(desk, "O1", MAIN, "O2")
    desk.withdraw("pia", sub, "no longer")
    refused("changed_since", desk.release, "leo", main, "r")
    assert records.revision(desk.shop, main.id).state in ("held", "released")
