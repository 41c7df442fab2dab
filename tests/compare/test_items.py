"""A trace as items: one for each stretch of path and each event, however the blocks that made them are written."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.compare.pairs import MM, items
from tests.properties.reviewing import lathe
from verifier.compare import Item
from verifier.machines import FrozenMap


def shape(found: list[Item]) -> list[tuple[str, float, float]]:
    """Kind, X as diameter and Z in mm of where each move ends; the value of each event."""
    return [
        (item.kind, 2 * item.end.x / MM, item.end.z / MM) if item.is_move else (item.kind, 0.0, 0.0) for item in found
    ]


@pytest.mark.parametrize(
    "text",
    [
        "G01 Z-10. F0.2",
        "G01 Z-4. F0.2\nZ-10.",
        "G01 Z-4. F0.2\nZ-4.\nZ-10.",
        "G01 W-3. F0.2\nG01 W-4. F0.2\nG40\nZ-10.",
        "G01 Z-1. F0.2 (NOTE)\nX60. Z-10.",
    ],
)
def test_pieces_of_one_line_are_one_item(text: str) -> None:
    assert shape(items(text)) == [("feed", 60, -10)]


@pytest.mark.parametrize(
    ("text", "ends"),
    [
        ("G01 Z-4. F0.2\nZ-10. F0.3", [(60, -4), (60, -10)]),
        ("G01 Z-4. F0.2\nM08\nZ-10.", [(60, -4), (60, -10)]),
        ("G01 Z-4. F0.2\nG00 Z-10.", [(60, -4), (60, -10)]),
        ("G01 Z-10. F0.2\nZ-4.", [(60, -10), (60, -4)]),
        ("G01 Z-4. F0.2\nX60.001 Z-10.", [(60, -4), (60.001, -10)]),
        ("G32 Z-4. F2.\nZ-10.", [(60, -4), (60, -10)]),
    ],
)
def test_what_differs_in_state_direction_or_kind_stays_apart(text: str, ends: list[tuple[float, float]]) -> None:
    assert [(x, z) for _, x, z in shape(items(text))] == ends


def test_a_dwell_between_two_pieces_keeps_them_apart() -> None:
    assert [kind for kind, _, _ in shape(items("G01 Z-4. F0.2\nG04 P100\nZ-10."))] == ["feed", "event:dwell", "feed"]


def test_arcs_on_one_circle_are_one_item_and_a_full_turn_is_not_lost() -> None:
    """From (60, 2) about (X 60, Z 12): a quarter, then another quarter of the same circle of radius 10."""
    halves = items("G02 X80. Z12. I0. K10. F0.1\nX60. Z22. I-10. K0.")
    whole = items("G02 X60. Z22. I0. K10. F0.1")
    assert [(i.kind, i.start, i.end, i.centre) for i in halves] == [(i.kind, i.start, i.end, i.centre) for i in whole]
    other_circle = items("G02 X80. Z12. I0. K10. F0.1\nX100. Z22. I0. K10.")
    assert len(other_circle) == 2


def test_a_move_that_goes_nowhere_is_no_item_but_one_with_words_nobody_reads_is() -> None:
    assert items("G01 X60. F0.2") == []
    (item,) = items("G01 X60. F0.2 B5.")
    assert item.value == "B5."


def test_under_nose_compensation_nothing_is_put_together() -> None:
    found = items("G42 G01 X50. Z0. F0.2\nZ-4.\nZ-10.\nG40 X60.")
    assert [(x, z) for _, x, z in shape(found)] == [(50, 0), (50, -4), (50, -10), (60, -10)]


def test_while_the_spindle_stands_its_speed_says_nothing() -> None:
    slow, fast = items("M05\nS100\nG00 X70."), items("M05\nS900\nG00 X70.")
    assert [item.state for item in slow if item.is_move] == [item.state for item in fast if item.is_move]
    turning = items("S900\nG00 X70.")
    assert [item.state.speed for item in turning if item.is_move] != [item.state.speed for item in fast if item.is_move]


def test_a_rapid_has_no_feed_and_a_thread_its_lead() -> None:
    (rapid,) = items("G00 X70. F9.")
    assert (rapid.state.feed_mode, rapid.state.feed) == (None, None)
    (thread,) = items("G32 Z-4. F2.")
    assert (thread.state.feed_mode, thread.state.feed) == ("lead", 2)


def test_a_rapid_in_two_axes_is_bent_where_each_axis_runs_at_its_own_rate() -> None:
    bent = replace(lathe(), choices=FrozenMap({**lathe().choices, "rapid-path": "each-axis"}))
    straight = items("G00 X70. Z12.\nX80. Z22.\nG04 P1")[:1]
    assert [(x, z) for _, x, z in shape(straight)] == [(80, 22)]
    assert len(items("G00 X70. Z12.\nX80. Z22.", bent)) == 2
    assert len(items("G00 X70.\nX80.", bent)) == 1


def test_items_name_all_the_blocks_that_made_them() -> None:
    (item,) = items("G01 Z-4. F0.2\nG40\nZ-10.")
    assert item.blocks == (item.block, item.block + 2)
