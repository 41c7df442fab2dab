"""A verdict holds for every position of the block skip switches: the worst one is given, with its position."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from tests.properties.meaning import meaning
from tests.properties.model import Job, Move, Skipped, Stop
from tests.properties.render import text
from tests.properties.reviewing import compared, review, shown, told
from tests.properties.sizes import few
from tests.properties.strategies import jobs

HEAD = "O1\nG21\nN1 G00 G40 G97 G99\nT0101\nG97 S800 M03\nG00 X60. Z2.\nG01 X50. F0.2\nZ-10.\n"
TAIL = "G00 X80. Z50.\nM05\nM30\n"


def program(*blocks: str) -> bytes:
    return (HEAD + "\n".join(blocks) + "\n" + TAIL).encode()


def _with(job: Job, *ops: Move | Stop | Skipped) -> Job:
    first, *rest = job.sequences
    return replace(job, sequences=(replace(first, ops=(*first.ops, *ops)), *rest))


@few(12)
@given(jobs(kinds=("turn", "finish")), st.sampled_from((0, 1, 2, 5)), st.booleans())
def test_a_mark_put_in_or_taken_out_is_a_difference_with_the_skip_on(job: Job, level: int, backwards: bool) -> None:
    op = Move(job.sequences[0].approach[0] + 1, Decimal(1))
    plain, marked = _with(job, op), _with(job, Skipped(op, level))
    on = frozenset((max(level, 1),))
    assert meaning(plain) == meaning(marked)
    assume(meaning(plain, skips_on=on) != meaning(marked, skips_on=on))
    old, new = text(marked), text(plain)
    report = review(*((new, old) if backwards else (old, new)))
    assert (report.verdict, report.position) == ("changed behaviour", "block skip on"), shown(old, new, report)
    assert [finding for finding in told(report) if finding.position]


@few(12)
@given(jobs(kinds=("turn", "finish")), st.sampled_from((0, 3)))
def test_a_changed_block_behind_a_mark_is_a_difference_with_the_skips_off(job: Job, level: int) -> None:
    op = Move(job.sequences[0].approach[0] + 1, Decimal(1))
    other = replace(op, z=Decimal(1) - Decimal("0.5"))
    old, new = text(_with(job, Skipped(op, level))), text(_with(job, Skipped(other, level)))
    assert meaning(_with(job, Skipped(op, level))) != meaning(_with(job, Skipped(other, level)))
    report = review(old, new)
    assert (report.verdict, report.position) == ("changed behaviour", "block skips off"), shown(old, new, report)


def test_a_level_of_its_own_is_named() -> None:
    old = program("/2 G00 X55. Z3.", "/3 G00 X56. Z4.")
    new = program("/2 G00 X55. Z3.", "G00 X56. Z4.")
    comparison = compared(old, new)
    assert comparison.verdict == "changed behaviour"
    assert comparison.position == "all block skips on"
    verdicts = {switched.position: switched.verdict for switched in comparison.switched}
    assert verdicts == {
        "all block skips on": "changed behaviour",
        "block skip 2 on": "same behaviour",
        "block skip 3 on": "changed behaviour",
    }


def test_another_level_is_a_difference_only_where_the_two_switches_part() -> None:
    old, new = program("/2 G00 X55. Z3.", "G00 X60."), program("/3 G00 X55. Z3.", "G00 X60.")
    comparison = compared(old, new)
    verdicts = {switched.position: switched.verdict for switched in comparison.switched}
    assert verdicts["all block skips on"] == "same behaviour"
    assert verdicts["block skip 2 on"] == verdicts["block skip 3 on"] == "changed behaviour"
    assert comparison.verdict == "changed behaviour"


@pytest.mark.parametrize("mark", ["/", "/1", "/ "])
def test_a_bare_mark_is_level_one(mark: str) -> None:
    report = review(program("/G00 X55. Z3."), program(f"{mark} G00 X55. Z3."))
    assert report.verdict == "same behaviour"
    assert told(report) == []


def test_what_only_a_switch_brings_is_told_once_and_with_its_position() -> None:
    old, new = program("/M00"), program("M00")
    report = review(old, new)
    assert report.verdict == "changed behaviour"
    assert {finding.position for finding in told(report)} == {"block skip on"}
    assert any(touch.kind == "block skip" for touch in report.touched)
