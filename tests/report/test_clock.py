"""The time of a report: what it is spent on, before and after, by sequence and as a whole, in numbers that add up to the last digit."""

from __future__ import annotations

from decimal import Decimal

import pytest

from tests.report.test_part import SHOP, reviewed
from verifier import ChangeReport, examine, review
from verifier.report import Share, to_html, to_json, to_text
from verifier.report.clock_text import time_lines

SAVED = ("clamp-stud", "time-saved")
BASE = SHOP / "programs/clamp-stud/base.nc"


def total(seconds: list[str | None]) -> Decimal:
    return sum((Decimal(value) for value in seconds if value is not None), Decimal(0))


def adds_up(before: str | None, after: str | None, shares: tuple[Share, ...]) -> bool:
    return total([s.before_s for s in shares]) == total([before]) and total([s.after_s for s in shares]) == total(
        [after]
    )


@pytest.fixture(scope="module")
def saved() -> ChangeReport:
    return reviewed(*SAVED)


def test_shares_make_up_every_row_and_the_whole_to_the_last_digit(saved: ChangeReport) -> None:
    time = saved.time
    assert adds_up(time.before_s, time.after_s, time.shares)
    for row in time.sequences:
        assert adds_up(row.before_s, row.after_s, row.shares)
        assert [share.name for share in row.shares] == ["cutting", "air", "standing"]
        assert row.saved_s is not None
        assert Decimal(row.saved_s) == total([row.before_s]) - total([row.after_s])
    assert time.saved_s is not None and time.before_s is not None
    assert Decimal(time.saved_s) == Decimal(time.before_s) - Decimal(time.after_s)


def test_seconds_that_are_saved_stand_with_their_sequence_in_every_form(saved: ChangeReport) -> None:
    lines = list(time_lines(saved.time, 110))
    changed = [row for row in saved.time.sequences if row.before_s != row.after_s]
    assert changed
    page, told = to_html(saved), to_text(saved)
    for row in changed:
        assert f"  {row.label}: {row.before_s} -> {row.after_s} ({row.saved_s} s saved)" in lines
        assert f'<td class="number">{row.saved_s}</td>' in page
        assert f"({row.saved_s} s saved)" in told
    assert to_json(saved)["time"]["sequences"][0]["saved_s"] == saved.time.sequences[0].saved_s
    assert all(text in page.replace("&#39;", "'") for text in saved.time.assumptions)


def test_what_one_direction_saves_costs_the_other(saved: ChangeReport) -> None:
    back = reviewed(SAVED[0], "base", SAVED[1])
    assert saved.time.saved_s is not None and back.time.saved_s == f"-{saved.time.saved_s}"
    assert [(s.name, s.after_s, s.before_s) for s in back.time.shares] == [
        (s.name, s.before_s, s.after_s) for s in saved.time.shares
    ]
    assert f"({saved.time.saved_s} s more)" in next(time_lines(back.time, 110))


def test_without_a_setup_sheet_feed_and_rapid_are_told_and_that_it_is_no_more() -> None:
    report = review(BASE.read_bytes(), BASE.read_bytes())
    assert [share.name for share in report.time.shares] == ["feed", "rapid", "other"]
    assert any(
        text.startswith("without a stock in a setup sheet only moves at a feed") for text in report.time.assumptions
    )
    assert report.time.saved_s == "0.00"
    assert "saved" not in next(time_lines(report.time, 110))


def test_a_sequence_that_is_gone_saves_all_that_it_took() -> None:
    """3 s of dwell, 2 s of tool change, and before it the spindle from 500 rev/min to rest: 500 / 4000 of 2 s."""
    two = b"O1\nN1 T0101\nG97 S500 M03\nG00 X50. Z5.\nG98 G01 Z-5. F600.\nM05\nN2 T0202\nG04 X3.\nM30\n"
    one = two.replace(b"N2 T0202\nG04 X3.\n", b"")
    gone, added = review(two, one).time, review(one, two).time
    for row, there, sign in ((gone.sequences[-1], "before_s", ""), (added.sequences[-1], "after_s", "-")):
        assert (row.before_s is None) != (row.after_s is None)
        assert row.saved_s == sign + getattr(row, there)
        assert [getattr(share, there) for share in row.shares] == ["0.00", "0.00", "5.25"]


def test_of_a_program_alone_the_shares_have_one_side() -> None:
    time = examine(BASE.read_bytes()).time
    assert time.saved_s is None
    assert all(share.before_s is None and share.after_s is not None for share in time.shares)
    assert all(row.saved_s is None for row in time.sequences)
