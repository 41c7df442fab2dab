"""`review` and `examine`: sign-off, levels, likeness, what is said of unchecked things, and what every form of the report must say."""

from __future__ import annotations

from dataclasses import replace
from html import unescape

import pytest

from tests.properties.programs import SHOP, machine
from tests.properties.reviewing import lathe, review
from tests.report.test_cards import FIRST, SECOND, program
from verifier import examine
from verifier.findings import default_policy
from verifier.report import CAUTION, to_html, to_text
from verifier.source import MachineError, SourceRefused


def test_a_first_submission_always_needs_a_lead() -> None:
    report = examine(program(FIRST))
    assert report.verdict is None
    assert report.sign_off.required
    assert report.sign_off.reasons[0] == "first submission"
    assert report.old is None
    assert report.cards == ()


def test_a_changed_feed_needs_a_lead_by_its_weight_only() -> None:
    old = program(FIRST, SECOND)
    small, large = (review(old, old.replace(b"F0.2", new)) for new in (b"F0.21", b"F0.3"))
    assert not small.sign_off.required, small.sign_off
    assert large.sign_off.required
    assert large.sign_off.reasons == ("feed-changed",)
    assert not small.touched


def test_a_touched_word_needs_a_lead_even_where_nothing_is_done_differently() -> None:
    old = program(FIRST, SECOND)
    new = old.replace(b"G96 S180 M03", b"S180\nG96 S180 M03", 1)
    report = review(old, new)
    assert report.verdict == "same behaviour"
    assert report.sign_off.required
    assert any(touch.kind == "speed" for touch in report.touched)


def test_levels_are_answered_each_for_itself() -> None:
    old = program(FIRST, SECOND)
    assert review(old, old).levels["wording"] == "same"
    respaced = review(old, old.replace(b" ", b""))
    assert (respaced.levels["wording"], respaced.levels["words"], respaced.levels["behaviour"]) == (
        "changed",
        "same",
        "same",
    )
    reworded = review(old, old.replace(b"\nZ-30.", b"\nG01 Z-30."))
    assert (reworded.levels["words"], reworded.levels["behaviour"]) == ("changed", "same")
    assert review(old, old.replace(b"Z-30.", b"Z-31.")).levels["behaviour"] == "changed"


def test_programs_that_may_not_belong_together_are_said_to() -> None:
    one, other = ((SHOP / f"programs/{name}/base.nc").read_bytes() for name in ("clamp-stud", "flanged-sleeve"))
    short = b"O7\nG28 U0. W0.\nM30\n"
    assert "may not belong together" in to_text(review(one, short))
    assert "may not belong together" not in to_text(review(one, one.replace(b"F.01", b"F.02")))
    assert review(one, other).alike is not None


def test_what_was_not_checked_is_told_once_with_how_often() -> None:
    report = examine(program("G01 X50. F0.2 B1.\nX51. B1.\nX52. B1.\nX62."))
    entries = [entry for entry in report.unchecked if entry.what == "B1."]
    assert [entry.count for entry in entries] == [3]
    assert entries[0].place is not None
    assert entries[0].place.line == 10


@pytest.mark.parametrize("form", [to_text, to_html])
def test_every_form_says_the_verdict_and_that_it_is_an_aid(form) -> None:  # type: ignore[no-untyped-def]
    old = program(FIRST)
    said = unescape(form(review(old, old.replace(b"F0.2", b"F0.4"))))
    flat = " ".join(said.split())
    assert "changed behaviour" in flat.lower()
    assert " ".join(CAUTION.split())[:60] in flat
    assert "F0.4" in said
    assert " ".join(CAUTION.split())[:60] in " ".join(unescape(form(examine(old))).split())


def test_text_of_a_program_cannot_act_in_a_page() -> None:
    old = program(FIRST).replace(b"(WORK)", b"(<script>alert(1)</script> X1)")
    page = to_html(review(old, old.replace(b"F0.2", b"F0.4").replace(b"X1)", b"X2)")))
    assert "<script" not in page
    assert "&lt;script&gt;" in page


def test_a_control_character_in_a_note_is_shown_and_not_sent_to_the_terminal() -> None:
    old = program(FIRST)
    new = old.replace(b"(WORK)", b"(LENGTH 38\x1b[2J)").replace(b"F0.2", b"F0.4")
    assert "\x1b" not in to_text(review(old, new))


def test_callers_mistakes_are_exceptions() -> None:
    with pytest.raises(SourceRefused):
        review(b"", program(FIRST))
    with pytest.raises(MachineError):
        review(program(FIRST), program(FIRST), replace(lathe(), kind="mill"))


def test_the_report_names_what_it_rests_on() -> None:
    on = machine("north-lathe")
    report = review(program(FIRST), program(SECOND), on, lathe())
    assert (report.machine.name, report.machine.digest) == (on.name, on.digest)
    assert report.old_machine is not None
    assert report.old_machine.digest == lathe().digest
    assert report.policy.digest == default_policy().digest
    assert all(revision >= 1 for revision in report.rules.values())
    assert {finding.rule for finding in report.findings} <= {*report.rules, "rule-failed"}
