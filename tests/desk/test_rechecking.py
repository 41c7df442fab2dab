"""A waiting revision checked again at the desk: on the reports that the programs give now, and nobody else's by that."""

from __future__ import annotations

import dataclasses
import json

import pytest

from tests.desk.conftest import PIN
from tests.desk.test_proven import FEED, at_machine, confirm, hand_in, report_of, step
from verifier import records
from verifier.desk import Desk
from verifier.findings import default_policy, policy_text
from verifier.records import RevisionFacts
from verifier.report import review
from verifier.source import ActRefused


def waiting(desk: Desk) -> RevisionFacts:
    """A third step, held for what adds up since the first; then the second is confirmed at the machine."""
    confirm(desk, at_machine(desk, step("F0.2")))
    second = at_machine(desk, step("F0.23"))
    third = hand_in(desk, step("F0.26"))
    assert third.held_because == (FEED,) and desk.outdated(third) == ()
    confirm(desk, second)
    return third


def test_after_a_confirmation_a_waiting_revision_is_checked_again_and_signed(desk: Desk) -> None:
    third = waiting(desk)
    assert desk.outdated(third) == ("proven revision",)
    with pytest.raises(ActRefused, check=lambda error: error.code == "stale_proven"):
        desk.decide("leo", PIN, third, "approve", "seen", third.report_digest)
    done = desk.check_again("both", third)
    assert [one.digest for one in done.reports] == [
        review(step("F0.23"), step("F0.26"), machine=desk.profile("lathe")).digest
    ]
    now = done.revision
    assert (now.state, now.authors) == ("held", ("pia",)) and report_of(desk, now)["total"] is None
    assert now.held_because == ("checked again, because this changed: proven revision",), "nothing else asks for a lead"
    desk.decide("both", PIN, now, "approve", "seen", now.report_digest)
    desk.release("pia", now, "go")
    assert records.verify_ledger(desk.shop.folder).ok


def test_a_base_released_meanwhile_is_what_it_is_compared_with(desk: Desk) -> None:
    third = waiting(desk)
    other = at_machine(desk, step("F0.23", "S1900"))
    done = desk.check_again("pia", third)
    assert done.revision.base_shas == (other.sha,) and done.reports[0].old is not None
    assert "S2000" in json.dumps(report_of(desk, done.revision)), (
        "it takes the other revision's clamp away, and says so"
    )


def test_where_nothing_changed_it_is_refused(desk: Desk) -> None:
    third = hand_in(desk, step("F0.2"))
    with pytest.raises(ActRefused, check=lambda error: error.code == "report_fits"):
        desk.check_again("pia", third)


def test_a_policy_in_force_since_is_what_it_is_judged_by(desk: Desk) -> None:
    third = hand_in(desk, step("F0.2"))
    stricter = policy_text(dataclasses.replace(default_policy(), name="stricter")).encode()
    desk.set_policy("leo", stricter, "stricter.toml", "an order")
    assert desk.outdated(third) == ("policy",)
    done = desk.check_again("leo", third)
    assert done.reports[0].policy.name == "stricter" and "policy" in done.revision.held_because[0]
    desk.decide("leo", PIN, done.revision, "approve", "seen", done.revision.report_digest)
    assert desk.release("pia", done.revision, "go").releases


def test_a_report_of_an_earlier_version_is_out_of_date(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    third = hand_in(desk, step("F0.2"))
    monkeypatch.setattr("verifier.desk.desk.VERSION", "99.0.0")
    assert desk.outdated(third) == ("tool version",)


def test_a_called_program_released_meanwhile_is_what_it_runs_with(desk: Desk) -> None:
    main = b"O1\nG21 G99 G40\nN1\nT0101\nG97 S500 M03\nG00 X50. Z2. M08\nM98 P2\nG00 X100. Z100.\nM05\nM30\n"

    def sub(feed: str) -> RevisionFacts:
        done = desk.submit("pia", "O2", "lathe", f"O2\nG01 Z-10. F{feed}\nM99\n".encode(), "r").revision
        if done.state == "held":
            ticked = [one.name for one in records.wanted_ticks(desk.shop, done.id)]
            desk.decide("leo", PIN, done, "approve", "seen", done.report_digest, ticked=ticked)
        desk.release("pia", done, "go")
        return records.revision(desk.shop, done.id)

    sub("0.2")
    caller = desk.submit("pia", "O1", "lathe", main, "r").revision
    later = sub("0.3")
    done = desk.check_again("leo", caller)
    assert "called programs" in done.revision.held_because[0]
    (facts,) = records.reports(desk.shop, done.revision.id)
    assert [one.sha for one in facts.called] == [later.sha]
