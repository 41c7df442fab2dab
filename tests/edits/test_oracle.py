"""The oracle of the edit bench against small programs whose meaning is worked out by hand."""

from __future__ import annotations

import ast
import sys
from pathlib import Path

import pytest

from tests.edits.bench import LATHE
from tests.edits.heads import heads
from tests.edits.oracle import doing, nobody_knows
from tests.edits.oracle_entries import entered
from tests.edits.oracle_parts import LEAST_INFEED, THREAD_ALLOWANCE
from tests.edits.words import line_of, lines_of

PROGRAM = """O1
N1 G21 G40 G97 G99
T0101
G50 S2000
G96 S180 M03
G00 X52. Z2. M08
G01 X40. F0.2
Z-30.
X52.
G00 X100. Z50.
M09
M05
M30
"""


def same(old: str, new: str, text: str = PROGRAM) -> bool:
    return doing(text) == doing(text.replace(old, new))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("Z-30.", "Z-30"),
        ("Z-30.", "Z-31."),
        ("F0.2", "F0.4"),
        ("G50 S2000\n", ""),
        ("G96 S180", "G97 S180"),
        ("M03", "M04"),
        ("T0101", "T0102"),
        ("G01 X40.", "G00 X40."),
        ("X52.\nG00", "U52.\nG00"),
        ("G21", "G20"),
        (" M08", ""),
        ("M30", "M99"),
        ("Z-30.\n", "Z-30.\nM01\n"),
        ("\nZ-30.", "\n/Z-30."),
        ("G50 S2000\nG96 S180 M03", "G96 S180 M03\nG50 S2000"),
        ("G99", "G98"),
    ],
)
def test_what_the_machine_does_otherwise_is_told_apart(old: str, new: str) -> None:
    assert not same(old, new)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("\nZ-30.", "\nG01 Z-30."),
        ("\nZ-30.", "\nZ-30.000 F.2"),
        ("\nZ-30.", "\nW-32."),
        ("X52.\nG00", "U12.\nG00"),
        ("G01", "g1"),
        ("M09\n", ""),
        ("Z-30.", "Z-30. (TO THE SHOULDER)"),
        ("N1 ", ""),
        ("G00 X52. Z2.", "Z2. X52. G0"),
    ],
)
def test_what_is_only_written_otherwise_is_the_same(old: str, new: str) -> None:
    assert same(old, new)


ROUGH = """G21 G99 G97 S900 M03
G00 X62. Z2.
G71 U2. R0.5
G71 P10 Q20 U0.4 W0.1 F0.3
N10 G00 X30.
G01 Z-20. F0.1
N20 X62.
G70 P10 Q20
M30
"""


@pytest.mark.parametrize(
    ("old", "new", "alike"),
    [
        ("U2. ", "U1.5 ", False),
        ("U2. ", "U40. ", False),
        ("U0.4", "U-0.4", False),
        ("Z-20.", "Z-21.", False),
        ("N20 ", "", False),
        ("N20 X62.", "N20 G01 X62.", True),
        ("F0.3", "F0.300", True),
        ("P10 Q20 U", "P20 Q20 U", False),
    ],
)
def test_a_contour_cycle_is_its_amounts_and_its_contour(old: str, new: str, alike: bool) -> None:
    assert same(old, new, ROUGH) is alike


def test_a_depth_beyond_the_whole_way_makes_no_difference_how_far_it_is() -> None:
    assert doing(ROUGH.replace("U2. ", "U16. ")) == doing(ROUGH.replace("U2. ", "U99. "))


@pytest.mark.parametrize(
    ("text", "old", "new"),
    [
        (ROUGH, "U16. ", "U-16. "),
        (ROUGH, "U99. ", "U-99. "),
        (ROUGH, "U99000 ", "U-99000 "),
        (ROUGH.replace("G71", "G72").replace("U2.", "W2."), "W99. ", "W-99. "),
        ("G21 G99 G97 S900 M03\nG00 X62. Z2.\nG74 R1.\nG74 Z-20. Q30000 F0.1\nM30\n", "Q30000", "Q-30000"),
    ],
)
def test_a_negative_step_or_depth_is_no_other_way_of_writing_it(text: str, old: str, new: str) -> None:
    """It is unsigned: one machine stops with an alarm, another takes the amount (common practice, no source). So nobody can say "no effect"."""
    base = text.replace("U2. ", old).replace("W2. ", old)
    assert old in base and doing(base) != doing(base.replace(old, new))


def test_sequences_begin_at_the_number_in_front_of_a_tool() -> None:
    text = PROGRAM.replace("M05\nM30", "M05\nM01\n(GROOVE)\nN2 G40\nT0303\nM30")
    assert heads(lines_of(text)) == [1, 14]


def test_a_line_is_cut_into_words_and_notes() -> None:
    line = line_of("/N10G1X-.5Z+2.(TO G0)F.2;END")
    assert [w.letter + w.number for w in line.words] == ["N10", "G1", "X-.5", "Z+2.", "F.2"]
    assert line.skip and line.plain and line.notes == ("(TO G0)", ";END")
    assert not line_of("X[#1+2.]").plain and line_of("G00 X1.").words[0].code == "G00"


CALLS = """G21 G99 G97 S900 M03
G00 X50. Z-10.
M98 P8100 L2
G00 X80.
M30
O8100
G01 U-8. F0.1
G00 U8.
W-5.
M99
"""


@pytest.mark.parametrize(
    ("old", "new", "alike"),
    [
        ("L2", "L3", False),
        ("M98 P8100 L2", "M98 P8100\nM98 P8100", True),
        ("M98 P8100 L2", "G01 U-8. F0.1\nG00 U8.\nW-5.\nG01 U-8.\nG00 U8.\nW-5.", True),
        ("W-5.", "W-5.1", False),
        ("M98 P8100 L2", "#1=0\nWHILE[#1LT2]DO1\nM98 P8100\n#1=#1+1\nEND1", True),
        ("M98 P8100 L2", "#1=0\nWHILE[#1LE2]DO1\nM98 P8100\n#1=#1+1\nEND1", False),
        ("M98 P8100 L2", "#1=2\nN5 M98 P8100\n#1=#1-1\nIF[#1GT0]GOTO5", True),
        ("X80.", "X[40.*2]", True),
        ("X80.", "X[40.*2+1]", False),
    ],
)
def test_a_call_is_its_lines_as_often_as_it_is_made(old: str, new: str, alike: bool) -> None:
    def acts(text: str) -> list[object]:
        return [act for act in doing(text)[0] if act[0] != "behind the end"]

    assert (acts(CALLS) == acts(CALLS.replace(old, new))) is alike


ORACLE = ("oracle", "oracle_entries", "oracle_parts", "oracle_macros", "heads", "words")


def test_the_oracle_knows_nothing_of_the_product() -> None:
    folder = Path(__file__).parent
    for name in ORACLE:
        tree = ast.parse((folder / f"{name}.py").read_text("utf-8"))
        found = {node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
        found |= {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
        mine = {f"tests.edits.{other}" for other in ORACLE}
        assert found <= set(sys.stdlib_module_names) | {"collections.abc", "__future__"} | mine, (name, found)


def test_a_jump_looks_forward_first() -> None:
    """Of two blocks of one number it takes the next one behind it: the loop is left at the second."""
    text = "G21\n#1=2\nN5 G00 X[10.*#1]\n#1=#1-1\nIF[#1GT0]GOTO5\nG00 Z1.\nN5 G00 X[10.*#1]\nM30\n"
    assert [act[2][0] for act in doing(text)[0] if act[0] == "G00"] == [("mm", 20), ("mm", 10)]


def test_the_whole_way_of_a_bore_is_counted_on_the_side_of_its_cuts() -> None:
    """From X 70 the contour goes out to X 78: 4 mm, however far in the last block leads."""
    bore = "G21 G99 G97 S900 M03\nG00 X70. Z2.\nG71 U5. R0.5\nG71 P10 Q20 U-0.4 W0.1 F0.3\nN10 G00 X78.\nG01 Z-20. F0.1\nN20 X40.\nM30\n"
    assert doing(bore) == doing(bore.replace("U5. ", "U50. "))
    assert doing(bore) != doing(bore.replace("U5. ", "U3. "))


def test_what_a_clamp_of_zero_does_nobody_knows() -> None:
    assert nobody_knows(PROGRAM.replace("G50 S2000", "G50 S000")) and not nobody_knows(PROGRAM)


ALONG = ROUGH.replace("G71 U2. R0.5\nG71 P10 Q20 U0.4", "G73 U2. W0 R2\nG73 P10 Q20 U0.4")


@pytest.mark.parametrize("text", [ROUGH, ALONG])
def test_a_feed_in_a_contour_is_used_by_the_finish_alone(text: str) -> None:
    """F and S of a contour do nothing while it is roughed (read in course texts)."""
    rough_only = text.replace("G70 P10 Q20\n", "")
    for old, new in (("F0.1\n", "F0.2\n"), ("F0.1\n", "F0.1 S700\n")):
        assert doing(rough_only) == doing(rough_only.replace(old, new))
        assert doing(text) != doing(text.replace(old, new))
    assert doing(rough_only) != doing(rough_only.replace("F0.3", "F0.4"))
    assert doing(rough_only) != doing(rough_only.replace("N20 X62.", "N20 X62.\nG01 X70."))


THREAD = "G21 G99 G97 S900 M03\nG00 X30. Z5.\n{first}G76 X26. Z-20. K2. D{depth} F2.\nM30\n"


@pytest.mark.parametrize(
    ("first", "one", "other", "alike"),
    [
        ("", "0.02", "0.05", True),  # the least infeed of the lathe is 0.05 mm
        ("", "0.05", "0.06", False),
        ("", "2.", "9.", True),  # there is no more than the height
        ("", "1.9", "2.", False),
        ("", "D", "0.05", False),
        ("G76 P010060 Q100 R0.2\n", "0.05", "0.1", True),
        ("G76 P010060 Q100 R0.2\n", "1.8", "1.9", True),  # the last pass takes the rest
        ("G76 P010060 Q100 R0.2\n", "1.7", "1.8", False),
        ("", "-0.02", "0.02", False),
    ],
)
def test_a_thread_goes_in_by_no_less_than_the_least_infeed_and_by_no_more_than_its_height(
    first: str, one: str, other: str, *, alike: bool
) -> None:
    texts = [THREAD.format(first=first, depth=depth) for depth in (one, other)]
    assert (doing(texts[0]) == doing(texts[1])) is alike


def test_the_oracle_has_the_least_infeed_of_the_lathe_that_judges() -> None:
    assert LATHE.cycles.thread_min_depth_mm == LEAST_INFEED
    assert LATHE.cycles.thread_finish_allowance_mm == THREAD_ALLOWANCE


STARTS = "%\nO1\nN5 G99 G40\nN10 G50 S1800\nN15 T0101\nN20 G96 S200 M03\nG00 X50. Z2. M08\nG01 Z-20. F0.2\nM01\n" + (
    "N30 T0202\nN35 G97 G99 S500 M03\nG00 X0. Z2. M08\nG50 S1500\nG96 S100\nG01 Z-20. F0.1\nM30\n"
)


@pytest.mark.parametrize(
    ("old", "new", "alike"),
    [
        ("N10 G50 S1800\nN15 T0101", "N15 T0101\nN10 G50 S1800", True),  # nobody searches N15 to save two settings
        ("N15 T0101", "N15 T0101 G99", True),
        ("N5 G99 G40\nN10 G50 S1800\nN15 T0101", "N15 T0101\nN5 G99 G40 G80 G90\nN10 G50 S1800", True),
        ("N35 G97 G99 S500 M03", "N35 G97 S500 M03", False),
        ("N35 G97 G99 S500 M03", "N35 G99 S500 M03", False),  # turns to its place in the mode of another way in
        ("N10 G50 S1800\n", "N10 G50 S1800\nG01 X90. F0.3\n", False),
    ],
)
def test_the_first_sequence_is_started_from_the_top_and_the_others_alone(old: str, new: str, *, alike: bool) -> None:
    assert old in STARTS
    assert (entered(STARTS) == entered(STARTS.replace(old, new))) is alike


def test_a_tool_called_behind_cuts_is_started_alone() -> None:
    base = "O1\nG97 G99 S500 M03\nT0101\nG00 X50. Z2.\nG01 Z-20. F0.2\nM30\n"
    for cut in ("G01 X90. Z5. F0.3\n", "G90 X40. Z-5. F0.2\n"):
        text = base.replace("T0101", f"{cut}T0101")
        assert entered(text) != entered(text.replace("T0101", "T0101\nG99"))
    assert entered(base) == entered(base.replace("T0101", "T0101\nG99"))
