"""A cycle joins by its own module alone: what its code is in every table follows from what it says of itself."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.control.running import codes, ends, run
from verifier.control.codes import DRILLING, GROUP, MODAL, ONE_SHOT
from verifier.control.cycle_call import Call
from verifier.control.cycle_registry import CYCLES, Lasts, cycle
from verifier.control.strokes import Expansion, Kind, Point, Stroke

START = "G21 G99 G97 S500 M03\nG00 X50. Z5.\n"


def _there_and_back(call: Call) -> Expansion | None:
    start, end = call.start(), call.end()
    return (Stroke(Kind.FEED, end, step="there"), Stroke(Kind.RAPID, Point(start.x, start.z), step="back"))


@pytest.fixture
def joined() -> Iterator[None]:
    cycle("G171")(_there_and_back)
    cycle("G172", lasts=Lasts.PASSES)(_there_and_back)
    yield
    for code in ("G171", "G172"):
        del CYCLES[code], GROUP[code]
    ONE_SHOT.remove("G171")
    del MODAL["G172"]


@pytest.mark.usefixtures("joined")
def test_a_cycle_of_one_block_leaves_the_motion_as_it_was() -> None:
    trace = run(START + "G171 X40. Z-5. F.1\nX60.\nM30\n")
    assert codes(trace) == []
    assert ends(trace)[1:] == [("feed", 40, -5), ("rapid", 50, 5), ("rapid", 60, 5)]
    assert [call.code for call in trace.cycles] == ["G171"]


@pytest.mark.usefixtures("joined")
def test_a_cycle_of_passes_is_repeated_by_axis_words_until_another_motion() -> None:
    trace = run(START + "G172 X40. Z-5. F.1\nX38.\nG00 X60.\nX70.\nM30\n")
    assert codes(trace) == []
    assert [call.code for call in trace.cycles] == ["G172", "G172"]
    assert ends(trace)[-2:] == [("rapid", 60, 5), ("rapid", 70, 5)]


@pytest.mark.usefixtures("joined")
def test_the_tables_know_it() -> None:
    assert codes(run(START + "G171 G04 X40. Z-5. F.1\nM30\n")) == ["two-codes-of-one-group"]
    assert codes(run(START + "G172 G01 X40. Z-5. F.1\nM30\n")) == ["two-codes-of-one-group"]


def test_before_it_joins_its_code_is_unknown_and_none_joins_twice() -> None:
    assert codes(run(START + "G171 X40. Z-5. F.1\nM30\n")) == ["unknown-code"]
    with pytest.raises(ValueError, match="already"):
        cycle("G71")(_there_and_back)


def test_every_cycle_stands_in_the_table_of_its_kind() -> None:
    for code, found in CYCLES.items():
        table = {Lasts.BLOCK: ONE_SHOT, Lasts.PASSES: MODAL, Lasts.HOLES: DRILLING}[found.lasts]
        assert code in table
        assert GROUP[code] == ("one-shot" if found.lasts is Lasts.BLOCK else "motion")
