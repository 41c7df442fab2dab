"""Choices that nobody verified stand under what is not checked where geometry rests on them, and only there."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from tests.control.running import machine
from verifier import examine, review
from verifier.machines import FrozenMap, Machine, Verification
from verifier.report import ChangeReport, to_text

HEAD = b"O1\nN1 G21 G40 G97 G99\nT0101\n"
SLANTED = HEAD + b"S500 M03\nG00 X50. Z5.\nG01 Z-9. F0.2\nG00 X60.\nM05\nM30\n"
ALONG_ONE_AXIS = HEAD + b"S500 M03\nG00 X50.\nZ5.\nG01 Z-9. F0.2\nM05\nM30\n"
STANDING = HEAD + b"M05\nG00 X50.\nZ5.\nM30\n"
WHAT = {
    "rapid-path": "choice rapid-path = straight",
    "cut-waits-for-speed": "choice cut-waits-for-speed = yes",
}


def told(report: ChangeReport) -> dict[str, int | None]:
    return {u.what: u.place.line if u.place is not None else None for u in report.unchecked if u.what in WHAT.values()}


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (SLANTED, {WHAT["rapid-path"]: 5, WHAT["cut-waits-for-speed"]: 6}),
        (ALONG_ONE_AXIS, {WHAT["cut-waits-for-speed"]: 7}),
        (STANDING, {}),
    ],
)
def test_each_is_told_once_at_the_first_block_where_it_matters(text: bytes, expected: dict[str, int]) -> None:
    found = told(examine(text))
    # A rapid from the reference point to a place of the program goes along both axes, too, in every program.
    assert {what: line for what, line in found.items() if what in expected} == expected
    assert told(review(text, text)) == found
    for what in found:
        assert what in " ".join(to_text(examine(text)).split())


def test_a_choice_that_somebody_verified_is_not_told() -> None:
    on: Machine = machine()
    seen = Verification("setter", date(2026, 1, 31))
    on = replace(on, verified=FrozenMap((name, seen) for name in WHAT))
    assert told(examine(SLANTED, machine=on)) == {}


def test_a_spindle_that_needs_no_time_leaves_nothing_to_wait_for() -> None:
    at_once = replace(machine(), spindle=replace(machine().spindle, start_seconds=machine().spindle.start_seconds * 0))
    assert WHAT["cut-waits-for-speed"] not in told(examine(SLANTED, machine=at_once))
