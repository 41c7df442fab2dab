"""Small steps that add up: what the desk tells since the revision last proven at each machine, and what a lead then signs for."""

from __future__ import annotations

import json

import pytest

from tests.desk.conftest import PIN, add
from verifier import records
from verifier.desk import Desk, report_facts
from verifier.machines import generic_lathe
from verifier.records import RevisionFacts
from verifier.report import review
from verifier.source import ActRefused, read_source
from verifier.syntax import parse

PROGRAM = (
    "O7\nG21 G99 G40\nN1\nT0101\nG50 S2000\nG96 S150 M03\nG00 X50. Z2. M08\nG01 Z-20. F0.2\nG00 X100. Z100.\nM30\n"
)
FEED = "since the proven revision: feed-changed"


def step(feed: str, speed: str = "S2000") -> bytes:
    return PROGRAM.replace("F0.2", feed).replace("S2000", speed).encode()


def hand_in(desk: Desk, content: bytes, target: str = "lathe") -> RevisionFacts:
    return desk.submit("pia", "O7", target, content, "a step").revision


def at_machine(desk: Desk, content: bytes, target: str = "lathe") -> RevisionFacts:
    revision = hand_in(desk, content, target)
    if revision.state == "held":
        ticked = [one.name for one in records.wanted_ticks(desk.shop, revision.id)]
        desk.decide("leo", PIN, revision, "approve", "seen", revision.report_digest, ticked=ticked)
    desk.release("leo", revision, "go")
    return records.revision(desk.shop, revision.id)


def confirm(desk: Desk, revision: RevisionFacts, machine: str = "lathe") -> None:
    back = desk.readback("otto", machine, revision, records.body(desk.shop, revision.sha))
    desk.confirm_by_readback("otto", PIN, machine, revision, back.id)


def report_of(desk: Desk, revision: RevisionFacts) -> dict[str, object]:
    (facts,) = records.reports(desk.shop, revision.id)
    return dict(json.loads(facts.json))


def test_two_steps_that_nobody_need_sign_for_need_a_lead_together(desk: Desk) -> None:
    """15 % and 13 % more feed are minor each, 30 % since the proven revision are major (the design's default of 1.25)."""
    first = at_machine(desk, step("F0.2"))
    confirm(desk, first)
    second = at_machine(desk, step("F0.23"))
    assert second.held_because == ()
    third = hand_in(desk, step("F0.26"))
    assert (third.state, third.held_because) == ("held", (FEED,))
    (facts,) = records.reports(desk.shop, third.id)
    assert (facts.base_sha, facts.proven_sha) == (second.sha, first.sha)
    machine = desk.profile("lathe")
    alone = review(step("F0.23"), step("F0.26"), machine=machine, proven=step("F0.2"))
    assert facts.digest == alone.digest and alone.total is not None


def test_once_the_step_before_was_proven_nothing_adds_up(desk: Desk) -> None:
    confirm(desk, at_machine(desk, step("F0.2")))
    confirm(desk, at_machine(desk, step("F0.23")))
    third = hand_in(desk, step("F0.26"))
    assert third.state == "cleared" and report_of(desk, third)["total"] is None


def test_a_release_is_held_again_once_another_revision_is_the_proven_one(desk: Desk) -> None:
    confirm(desk, at_machine(desk, step("F0.2")))
    second = at_machine(desk, step("F0.23"))
    third = hand_in(desk, step("F0.26"))
    desk.decide("leo", PIN, third, "approve", "seen", third.report_digest)
    confirm(desk, second)
    with pytest.raises(ActRefused) as caught:
        desk.release("leo", third, "go")
    assert caught.value.code == "changed_since" and "proven revision" in caught.value.message
    held = records.revision(desk.shop, third.id)
    assert held.state == "held" and held.report_digest != third.report_digest
    assert report_of(desk, held)["total"] is None
    desk.decide("leo", PIN, held, "approve", "seen", held.report_digest)
    desk.release("leo", held, "go")
    assert records.verify_ledger(desk.shop.folder).ok


def test_machines_of_a_group_that_proved_different_revisions_get_a_report_each(desk: Desk) -> None:
    add(desk, "left", group="pair")
    add(desk, "right", group="pair")
    confirm(desk, at_machine(desk, step("F0.2"), "pair"), "left")
    second = at_machine(desk, step("F0.23"), "pair")
    confirm(desk, second, "right")
    third = hand_in(desk, step("F0.26"), "pair")
    found = records.reports(desk.shop, third.id)
    assert [one.base_sha for one in found] == [second.sha] * 2
    assert [json.loads(one.json)["total"] is None for one in found] == [True, False]
    assert third.held_because == (FEED,) and third.base_shas == (second.sha,)
    grounds = dict(records.grounds_by_machine(desk.shop, "O7", "pair", third.sha))
    assert grounds == {"right": found[0].ground, "left": found[1].ground}


def test_what_is_critical_only_in_total_is_ticked_and_needs_a_read_back(desk: Desk) -> None:
    """A clamp that goes up in two steps, each under twice, together over it: critical since the proven revision (from the design)."""
    confirm(desk, at_machine(desk, step("F0.2")))
    at_machine(desk, step("F0.2", "S2800"))
    third = hand_in(desk, step("F0.2", "S4200"))
    wanted = records.wanted_ticks(desk.shop, third.id)
    assert [one.since_proven for one in wanted if one.since_proven] == [True] and third.has_critical
    assert "since the proven revision" in wanted[-1].told()
    with pytest.raises(ActRefused) as caught:
        desk.decide("leo", PIN, third, "approve", "seen", third.report_digest)
    assert caught.value.code == "not_ticked"


def test_what_the_proven_revision_called_then_is_what_it_is_run_with(desk: Desk) -> None:
    """A main program that never changed its words, over a subprogram whose feed goes up by small steps."""
    main = b"O1\nG21 G99 G40\nN1\nT0101\nG97 S500 M03\nG00 X50. Z2. M08\nM98 P2\nG00 X100. Z100.\nM05\nM30\n"
    noted = main.replace(b"N1\n", b"N1 (AGAIN)\n")

    def sub(feed: str) -> bytes:
        return f"O2\nG01 Z-10. F{feed}\nM99\n".encode()

    def bring(name: str, content: bytes, beside: tuple[str, ...] = ()) -> RevisionFacts:
        done = desk.submit("pia", name, "lathe", content, "r", beside=beside).revision
        if done.state == "held":
            ticked = [one.name for one in records.wanted_ticks(desk.shop, done.id)]
            desk.decide("leo", PIN, done, "approve", "seen", done.report_digest, ticked=ticked)
        return records.revision(desk.shop, done.id)

    desk.release("leo", bring("O2", sub("0.2")), "go")
    first = bring("O1", main)
    desk.release("leo", first, "go")
    confirm(desk, first)
    called = bring("O2", sub("0.23"))
    again = bring("O1", noted, ("O2",))
    desk.release("leo", again, "go", (called,))
    bring("O2", sub("0.26"))
    third = desk.submit("pia", "O1", "lathe", main.replace(b"N1\n", b"N1 (ONCE MORE)\n"), "r", beside=("O2",)).revision
    total = report_of(desk, third)["total"]
    assert isinstance(total, dict) and FEED in third.held_because
    assert [one["rule"] for one in total["findings"] if one["weight"] == "major"] == ["feed-changed"]


def test_the_facts_name_the_proven_revision() -> None:
    proven, base, new = step("F0.2"), step("F0.23"), step("F0.26")
    facts = report_facts(review(base, new, machine=generic_lathe(), proven=proven), parse(read_source(new)))
    assert facts.proven_sha == read_source(proven).sha256
    assert report_facts(review(base, new, machine=generic_lathe()), parse(read_source(new))).proven_sha is None
