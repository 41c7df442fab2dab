"""Other ways in: what a sequence lacks that is started alone at its search number."""

from __future__ import annotations

import pytest

from tests.control.running import program
from verifier.control import NEEDED, WayIn, sequences, ways_in
from verifier.machines import generic_lathe

HEAD = "O1\nG21\nN1 G97 G99 S500 M03 T0101\nG50 S2000\nG00 X50. Z5. M08\nG01 Z0. F.2\nM09\nM01\n"
FULL = ("N2 G97 G99 G40", "T0202", "G50 S2000", "G96 S180 M03", "G00 X52. Z2. M08", "G01 Z-10. F.15", "M30")


def entered(lines: tuple[str, ...]) -> WayIn:
    text = program(HEAD + "\n".join(lines) + "\n")
    found = ways_in(text, generic_lathe(), sequences(text, generic_lathe()))
    assert len(found) == 2
    return found[1]


def test_a_sequence_that_sets_everything_itself_lacks_nothing() -> None:
    assert (entered(FULL).missing, entered(FULL).cuts) == ((), True)
    assert entered(FULL).sequence.label == "N2"


@pytest.mark.parametrize(
    ("old", "new", "missing"),
    [
        ("G97 G99 G40", "G97 G40", ("feed_mode",)),
        (" F.15", "", ("feed",)),
        ("G96 S180 M03", "M03", ("speed",)),
        ("G96 S180 M03", "G96 S180", ("sense",)),
        ("G50 S2000", "G54", ("clamp",)),
        (" M08", "", ("coolant",)),
        ("X52. Z2.", "X52.", ("place",)),
        ("G00 X52.", "X52.", ("motion",)),
    ],
)
def test_what_a_sequence_leaves_to_the_one_before_it_is_missing(old: str, new: str, missing: tuple[str, ...]) -> None:
    lines = tuple(line.replace(old, new) for line in FULL)
    assert lines != FULL
    found = entered(lines).missing
    assert set(missing) <= set(found)
    assert all(name in NEEDED for name in found)


def test_a_clamp_is_missed_only_under_constant_surface_speed() -> None:
    lines = tuple(line.replace("G96 S180", "G97 S800").replace("G50 S2000", "G54") for line in FULL)
    assert entered(lines).missing == ()


def test_a_sequence_that_only_positions_does_not_cut() -> None:
    assert entered(("N2 T0202", "G00 X52. Z2.", "M30")).cuts is False


CALLED = (
    "O1\nG21\nN1 G97 G99 S500 M03\nT0101\n{cut}\nG97 G99 S700\nT0202\nG00 X52. Z2.\nG01 Z-10. F.15\nM30\n{subprogram}"
)
CUT = "G00 X50. Z5.\nG01 Z-3. F.2\nG00 Z5."


@pytest.mark.parametrize(
    ("cut", "subprogram"),
    [
        (CUT, ""),
        ("M98 P9001", f"O9001\n{CUT}\nM99\n"),
        ("M98 P39001", f"O9001\n{CUT}\nM99\n"),
        ("M98 P9001", f"O9001\nM98 P9002\nM99\nO9002\n{CUT}\nM99\n"),
    ],
)
def test_work_in_a_called_program_belongs_to_the_sequence_that_calls_it(cut: str, subprogram: str) -> None:
    text = program(CALLED.format(cut=cut, subprogram=subprogram))
    first, second = sequences(text, generic_lathe())
    last_of_work = first.end - 1
    word = text.blocks[last_of_work].words[-1]
    assert word.text in ("Z5.", "P9001", "P39001")
    assert (second.first, second.entry) == (first.end, first.end)


def test_a_called_program_without_work_leaves_the_head_where_it_is() -> None:
    """Also one that calls itself, and a chain of calls longer than a control follows."""
    chain = "".join(f"O{9001 + k}\nM98 P{9002 + k}\nM99\n" for k in range(2000))
    for subprogram in ("O9001\nG97 S300\nM99\n", "O9001\nM98 P9001\nM99\n", chain):
        cut = f"{CUT}\nN2 M98 P9001"
        _, second = sequences(program(CALLED.format(cut=cut, subprogram=subprogram)), generic_lathe())
        assert second.label == "N2"


@pytest.mark.parametrize(
    ("head", "missing"),
    [
        ("G99 S777 M03", ("speed_mode",)),
        ("G97 G99 M03", ("speed",)),
        ("G96 G99 S200 M03", ("clamp",)),
        ("G97 G99 S777 M03", ()),
        ("G99", ()),
    ],
)
def test_a_spindle_that_turns_before_the_first_cut_needs_what_it_turns_by(head: str, missing: tuple[str, ...]) -> None:
    """It is set again before the cut; on the way there the spindle turns in the mode that whatever ran last left (common practice, no source)."""
    lines = (f"N2 {head}", "T0202", "G00 X52. Z2. M08", "G50 S2000", "G96 S180 M03", "G01 Z-10. F.15", "M30")
    assert entered(lines).missing == missing
