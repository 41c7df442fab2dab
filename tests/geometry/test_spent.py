"""What the time is spent on: cutting, air and standing make up the whole; a cut is where the part loses material."""

from __future__ import annotations

from math import fsum, pi

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.geometry.parts import sheet, traced, turning
from verifier.control import sequences
from verifier.geometry import Spent, cutting_moves, spent, spent_by_sequence, times, turned_part
from verifier.machines import Setup, Tool, generic_lathe
from verifier.source import read_source
from verifier.syntax import parse

GENERIC = generic_lathe()
BAR = sheet(turning(0.4))
"""A bar of 60 by 100 mm, faced at Z0."""


def shares(body: str, setup: Setup = BAR, *, swept: bool = True) -> Spent:
    trace = traced(body, setup)
    found = times(trace, GENERIC)
    return spent(found, trace, cutting_moves(trace, turned_part(trace, GENERIC, setup) if swept else None))


def test_a_pass_along_the_bar_cuts_and_the_same_pass_again_moves_through_air() -> None:
    """At 500 rev/min and 0.25 mm/rev 40 mm take 40 / 0.25 / 500 min = 19.2 s, to the few milliseconds in which the slides speed up."""
    once = "G00 X56. Z1.\nG01 Z-40. F0.25\nG00 X70.\nZ1.\n"
    one, two = shares(once), shares(once * 2)
    assert one.work == pytest.approx((40 + 1) / 0.25 / 500 * 60, abs=0.02)
    assert two.work == pytest.approx(one.work)
    assert two.way - one.way == pytest.approx(one.work + one.way, abs=0.6)  # the second approach starts elsewhere


def test_a_feed_through_air_is_air_with_a_part_and_feed_without() -> None:
    body = "G00 X70. Z1.\nG01 Z-40. F0.25\nG00 X80.\n"
    with_part, without = shares(body), shares(body, swept=False)
    assert with_part.work == 0
    assert without.work > 19
    assert with_part.total == pytest.approx(without.total)
    assert with_part.way == pytest.approx(without.work + without.way)


def test_dwells_tool_changes_and_spindle_starts_are_standing() -> None:
    plain, dwelt = (shares(f"G00 X70. Z1.\n{word}G01 Z-1. F0.25\n") for word in ("", "G04 X3.\n"))
    assert dwelt.rest - plain.rest == pytest.approx(3)
    assert plain.rest >= float(GENERIC.tool_change_seconds)


def test_a_cut_that_could_not_be_swept_counts_as_cutting() -> None:
    """A tool that the sheet does not know, near the piece: nobody may take its feed for air."""
    body = "G00 X56. Z1.\nG01 Z-40. F0.25\nG00 X70.\n"
    unknown = shares(body, sheet(turning(0.4, station=2)))
    assert unknown.work == pytest.approx(shares(body).work)


def test_passes_of_a_thread_cut() -> None:
    tool = Tool(1, "threading", orientation=8)
    body = "G00 X64. Z4.\nX59.\nG32 Z-20. F1.5\nG00 X64.\nZ4.\n"
    found = shares(body, sheet(tool))
    assert found.work == pytest.approx(24 / 1.5 / 500 * 60, abs=0.02)


def test_facing_at_constant_surface_speed_is_cutting_for_the_handbook_time() -> None:
    """Handbook formula 60 pi (D1^2 - D2^2) / (4000 f v) (60 mm to 40 mm, 0.2 mm/rev, 150 m/min)."""
    body = "G96 S150\nG00 X60. Z-0.5\nG01 X40. F0.2\nG00 Z5.\n"
    assert shares(body).work == pytest.approx(60 * pi * (60**2 - 40**2) / (4000 * 0.2 * 150), abs=0.02)


LEVELS = st.lists(
    st.tuples(st.integers(20, 70), st.integers(-60, 5), st.sampled_from(["G00", "G01", "G04 X"])), max_size=12
)


@given(LEVELS)
@settings(max_examples=40, deadline=None)
def test_the_three_shares_make_up_the_total_and_the_sequences_no_more_than_it(
    levels: list[tuple[int, int, str]],
) -> None:
    lines = ["G01 F0.3"]
    for x, z, word in levels:
        lines.append(f"{word}{abs(z) / 10}" if word.startswith("G04") else f"{word} X{x}. Z{z}.")
    body = "\n".join([*lines, "M05", "N2 T0202", "G97 S800 M03", *lines])
    trace = traced(body, BAR)
    found = times(trace, GENERIC)
    cuts = cutting_moves(trace, turned_part(trace, GENERIC, BAR))
    whole = spent(found, trace, cuts)
    assert min(whole.work, whole.way, whole.rest) >= 0
    assert whole.total == pytest.approx(found.total, rel=1e-12)
    program = parse(read_source(f"O1000 (PART)\nN1 G00 G21 G40 G54 G97 G99\nT0101\nG97 S500 M03\n{body}".encode()))
    parts = spent_by_sequence(found, trace, sequences(program, GENERIC), cuts)
    assert len(parts) == 2
    for share in ("work", "way", "rest"):
        assert fsum(getattr(one, share) for one in parts) <= getattr(whole, share) * (1 + 1e-12) + 1e-12
