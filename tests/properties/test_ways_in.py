"""Other ways in: what a sequence no longer sets for itself is a finding even where nothing changes from the top."""

from __future__ import annotations

from hypothesis import assume, given
from hypothesis import strategies as st

from tests.properties.model import Job
from tests.properties.render import Form, text
from tests.properties.reviewing import review, shown, told
from tests.properties.sizes import few
from tests.properties.strategies import jobs

RULE = "sequence-start-incomplete"


@few(20)
@given(jobs(kinds=("turn", "finish", "groove", "pecked", "drill")), st.integers(0, 2**16))
def test_a_feed_mode_dropped_at_a_head_is_the_same_from_the_top_and_a_start_that_lacks_it(job: Job, seed: int) -> None:
    assume(len(job.sequences) > 1)
    old, new = text(job, seed=seed), text(job, Form(drop_head=frozenset((99,))), seed=seed)
    report = review(old, new)
    assert report.verdict == "same behaviour", shown(old, new, report)
    found = [finding for finding in told(report) if finding.rule == RULE]
    assert found, shown(old, new, report)
    assert {str(finding.weight) for finding in found} == {"major"}
    assert report.sign_off.required
    assert RULE in report.sign_off.reasons
    back = review(new, old)
    assert back.verdict == "same behaviour"
    assert {str(finding.status) for finding in told(back) if finding.rule == RULE} <= {"gone", "still there"}


@few(10)
@given(jobs(kinds=("turn", "finish", "groove")), st.integers(0, 2**16))
def test_what_a_reset_restores_needs_no_word_of_its_own(job: Job, seed: int) -> None:
    """G40 is restored by the reset of the generic lathe: dropping it leaves nothing less established."""
    assume(len(job.sequences) > 1)
    report = review(text(job, seed=seed), text(job, Form(drop_head=frozenset((40,))), seed=seed))
    assert report.verdict == "same behaviour"
    assert [finding for finding in told(report) if finding.rule == RULE] == []


def test_a_motion_code_that_the_sequence_before_left_is_a_start_that_lacks_it() -> None:
    one = "O1\nG21\nN1 G00 G40 G97 G99\nT0101\nG97 S800 M03\nG00 X60. Z2.\nG01 X50. F0.2\nG00 X80. Z50.\nM05\nM01\n"
    two = "N2 {}G40 G97 G99\nT0202\nG97 S700 M03\nX60. Z2.\nG01 X40. F0.1\nG00 X80. Z50.\nM05\nM30\n"
    old, new = (one + two.format("G00 ")).encode(), (one + two.format("")).encode()
    report = review(old, new)
    assert report.verdict == "same behaviour"
    assert RULE in [finding.rule for finding in told(report)], shown(old, new, report)


def test_a_sequence_that_lacks_less_than_before_is_nothing_new() -> None:
    one = "O1\nG21\nN1 G00 G40 G97 G99\nT0101\nG97 S800 M03\nG00 X60. Z2. M08\nG01 X50. F0.2\nG00 X80. Z50.\nM09\nM05\nM01\n"
    two = "N2 G00 G40 G97{}\nT0202\nG97 S700 M03\nG00 X60. Z2.\nG01 X40. F0.1\nG00 X80. Z50.\nM05\nM30\n"
    report = review((one + two.format("")).encode(), (one + two.format(" G99")).encode())
    assert [finding.title for finding in told(report) if finding.rule == RULE and str(finding.status) == "new"] == []
