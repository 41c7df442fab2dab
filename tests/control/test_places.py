"""Where the tool is: arcs by radius and by centre, reference points, machine coordinates, presets and work offsets."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.control.running import MM, codes, doings, events, last, machine, run, state_of
from verifier.control import FIELDS, Trace
from verifier.machines import FrozenMap, Setup

START = "G21 G99 G97 S500 M03\nG00 X50. Z5.\n"


def setup(**offsets: dict[str, str]) -> Setup:
    table = {code: FrozenMap({axis: Fraction(v) for axis, v in axes.items()}) for code, axes in offsets.items()}
    return Setup("sheet", None, None, FrozenMap(table), FrozenMap({}), FrozenMap({}), (), "")


def thousandths(value: int) -> str:
    sign, digits = ("-" if value < 0 else ""), str(abs(value)).rjust(4, "0")
    return f"{sign}{digits[:-3]}.{digits[-3:]}"


# -- arcs ---------------------------------------------------------------------------------------------------------------


@given(
    st.sampled_from(["G02", "G03"]),
    st.integers(-20000, 20000).filter(lambda v: abs(v) > 10),
    st.integers(-20000, 20000).filter(lambda v: abs(v) > 10),
    st.integers(101, 400),
)
@settings(max_examples=80, deadline=None)
def test_an_arc_by_r_is_the_arc_by_i_and_k_to_its_centre(code: str, du: int, dw: int, percent: int) -> None:
    """Law: feed the centre found for R back as I and K, written to six decimals: the same arc within a millionth."""
    chord = ((du / 2) ** 2 + dw**2) ** 0.5
    by_r = run(
        START
        + f"{code} U{thousandths(du)} W{thousandths(dw)} R{thousandths(int(chord / 2 * percent / 100) + 2)} F.1\nM30\n"
    )
    row = by_r.rows()[-1]
    i, k = (Fraction(centre - start, MM) for centre, start in ((row.cx, row.x0), (row.cz, row.z0)))
    by_centre = run(START + f"{code} U{thousandths(du)} W{thousandths(dw)} I{float(i):.6f} K{float(k):.6f} F.1\nM30\n")
    again = by_centre.rows()[-1]
    assert (again.kind, again.x1, again.z1) == (row.kind, row.x1, row.z1)
    assert abs(again.cx - row.cx) <= MM // 10**6
    assert abs(again.cz - row.cz) <= MM // 10**6
    assert codes(by_centre) == codes(by_r) == []


def test_an_arc_by_r_sweeps_at_most_half_a_circle_on_the_right_side() -> None:
    """G03 from 20 to 40 with R10, outside: the centre lies on the tool's left, at Z-10 under the corner (X 20); G02 on the other side."""
    convex = run(START + "G00 X20. Z0.\nG03 X40. Z-10. R10. F.1\nM30\n").rows()[-1]
    concave = run(START + "G00 X20. Z0.\nG02 X40. Z-10. R10. F.1\nM30\n").rows()[-1]
    assert (convex.cx, convex.cz) == (10 * MM, -10 * MM)
    assert (concave.cx, concave.cz) == (20 * MM, 0)


@pytest.mark.parametrize(
    ("words", "code"),
    [
        ("X40. Z-10. R3.", "arc-impossible"),
        ("X40. Z-10. R-10.", "arc-impossible"),
        ("X40. Z-10.", "arc-impossible"),
        ("X50. Z5. R3.", "arc-impossible"),
        ("X40. Z-10. I1. K-7.", "arc-ends-off-circle"),
        ("X70. Z-5. R10. I10. K0.", "arc-by-two-forms"),
    ],
)
def test_an_arc_that_cannot_be_is_a_fault(words: str, code: str) -> None:
    """Limits of mismatch: NISTIR 6556 section 3.5.3; on lathes R is never below zero: common practice, no source."""
    assert codes(run(START + f"G02 {words} F.1\nM30\n")) == [code]


@pytest.mark.parametrize(("x", "faulty"), [("40.004", False), ("40.005", True)])
def test_the_ends_of_an_arc_may_be_off_its_circle_by_two_micrometres(x: str, faulty: bool) -> None:
    """0.002 mm: NISTIR 6556 section 3.5.3; at Z-10 under the centre an X radius of 20.002 is off by just that."""
    trace = run(START + f"G00 X20. Z0.\nG03 X{x} Z-10. I0. K-10. F.1\nM30\n")
    assert bool(codes(trace)) is faulty


def test_an_arc_in_another_plane_is_not_taken_for_one_in_x_and_z() -> None:
    trace = run(START + "G17 G02 X40. Z-10. R20. F.1\nM30\n")
    assert codes(trace) == ["arc-impossible"]


# -- coordinates --------------------------------------------------------------------------------------------------------


def test_g28_goes_by_way_of_the_point_named_and_only_the_axes_named() -> None:
    trace = run(START + "G28 U0\nG28 W10.\nM30\n")
    assert [(trace.bases[r.bx1], r.x1, trace.bases[r.bz1], r.z1) for r in trace.rows()[1:]] == [
        ("X at reference", 0, "", 5 * MM),
        ("X at reference", 0, "", 15 * MM),
        ("X at reference", 0, "Z at reference", 0),
    ]
    assert [r.ends for r in trace.rows()[1:]] == [True, False, True]


def test_g30_names_its_reference_point() -> None:
    for words, base in (("G30 U0 W0", "X at reference P2"), ("G30 P3 U0 W0", "X at reference P3")):
        assert run(START + f"{words}\nM30\n").bases[-2] == base


def test_g28_without_an_axis_brings_both_axes_home_or_moves_nothing() -> None:
    """Machines differ: a choice."""
    for words, which in (("G28", ""), ("G30 P3", " P3")):
        home = run(START + f"{words}\nG01 W-1. F.1\nM30\n")
        row = home.rows()[1]
        assert (home.bases[row.bx1], home.bases[row.bz1]) == (f"X at reference{which}", f"Z at reference{which}")
        stays = run(START + f"{words}\nG01 W-1. F.1\nM30\n", machine({"reference-without-axis": "nothing-moves"}))
        assert last(stays) == (50, 4)
        assert events(stays, "machine-code") == [f"{words.split()[0]}{which}"]


def test_g29_returns_by_way_of_the_point_that_g28_went_through() -> None:
    trace = run(START + "G28 X60. Z10.\nG29 X20. Z-5.\nM30\n")
    via, end = trace.rows()[-2:]
    assert (via.x1, via.z1, end.x1, end.z1) == (30 * MM, 10 * MM, 10 * MM, -5 * MM)
    assert (via.ends, end.ends, trace.bases[via.bx0]) == (False, True, "X at reference")
    one = run(START + "G28 U0\nG29 X20.\nM30\n").rows()[-1]
    assert (one.x1, one.z1) == (10 * MM, 5 * MM)


def test_g29_without_a_reference_before_it_is_a_fault() -> None:
    trace = run(START + "G29 X20. Z-5.\nM30\n")
    assert codes(trace) == ["return-without-reference"]
    assert events(trace, "unexecuted") == ["G29"]


def test_g53_moves_in_machine_coordinates_for_one_block() -> None:
    trace = run(START + "G53 X-50. Z-20.\nX60. Z3.\nM30\n")
    _, home, back = trace.rows()
    assert (trace.bases[home.bx1], home.x1, trace.bases[home.bz1], home.z1) == (
        "X in machine coordinates", -25 * MM, "Z in machine coordinates", -20 * MM,
    )  # fmt: skip
    assert (trace.bases[back.bx1], back.x1) == ("", 30 * MM)


def test_g50_gives_the_present_place_new_values_and_moves_nothing() -> None:
    trace = run(START + "G50 X100. Z0.\nG01 X90. F.1\nM30\n")
    assert len(trace.moves) == 2
    row = trace.rows()[-1]
    assert (row.x0, row.z0, row.x1) == (50 * MM, 0, 45 * MM)
    assert state_of(trace).frame == ("", -25 * MM, "", 5 * MM)


def test_g50_with_increments_shifts_by_them() -> None:
    trace = run(START + "G50 U2. W-1.\nG01 U0 W0 F.1\nM30\n")
    assert (last(trace), state_of(trace).frame) == ((52.0, 4.0), ("", -MM, "", MM))


def test_work_offsets_given_in_the_setup_sheet_shift_the_place_exactly() -> None:
    sheet = setup(G54={"X": "0", "Z": "-300"}, G55={"X": "0", "Z": "-310"})
    trace = run("G21 G99 G97 S500 M03\nG54 G00 X50. Z5.\nG55\nG01 W-1. F.1\nM30\n", setup=sheet)
    row = trace.rows()[-1]
    assert (trace.bases[row.bz0], row.z0, row.x0) == ("", 15 * MM, 25 * MM)
    assert state_of(trace).work_offset == "G55"


def test_work_offsets_nobody_gave_make_the_place_unknown_until_it_is_named() -> None:
    trace = run("G21 G99 G97 S500 M03\nG54 G00 X50. Z5.\nG55\nG01 W-1. F.1\nZ0.\nM30\n")
    first, second = trace.rows()[1:]
    assert trace.bases[first.bz0] == "Z G54>G55"
    assert (trace.bases[second.bz1], second.z1) == ("", 0)


def test_further_work_offsets_are_told_apart_by_their_number() -> None:
    one, other = (run(f"G21\nG00 X50. Z5.\nG54.1 P{k}\nX50. Z5.\nM30\n") for k in (1, 2))
    assert state_of(one).work_offset == "G54.1P1"
    assert doings(one) != doings(other)
    assert codes(run("G21\nG54.1\nM30\n")) == ["work-offset-without-number"]


# -- shifts and offsets that the program writes -----------------------------------------------------------------------------

CUT = "G01 X40. Z0. F.1\nZ-20.\nG00 U20. W30.\n"


def slide(trace: Trace) -> list[tuple[int, int]]:
    """Where each move ends as the slide goes: what is programmed and every shift on top."""
    found = []
    for row in trace.rows():
        xb, xs, zb, zs = trace.states[row.state].frame
        assert not (xb or zb)
        found.append((row.x1 + xs, row.z1 + zs))
    return found


@given(st.integers(-20000, 20000), st.integers(-20000, 20000))
@settings(max_examples=60, deadline=None)
def test_a_local_shift_is_the_same_path_in_shifted_coordinates(dx: int, dz: int) -> None:
    """Law: G52 and the words of a part is what the same words give when each absolute coordinate is shifted."""
    shifted = run(START + f"G52 X{thousandths(dx)} Z{thousandths(dz)}\n" + CUT + "M30\n")
    x, z0, z20 = (thousandths(v) for v in (40000 + dx, dz, dz - 20000))
    plain = run(START + f"G01 X{x} Z{z0} F.1\nZ{z20}\nG00 U20. W30.\nM30\n")
    assert slide(shifted) == slide(plain)
    assert codes(shifted) == []


def test_a_local_shift_replaces_the_one_before_and_x0_z0_takes_it_back() -> None:
    trace = run(START + "G52 X2. Z-1.\nG52 Z-3.\nG01 W0 F.1\nG52 X0 Z0\nG01 U0 W0\nM30\n")
    first, second = trace.rows()[1:]
    assert trace.states[first.state].frame == ("", MM, "", -3 * MM)
    assert (first.x1, first.z1) == (24 * MM, 8 * MM)
    assert trace.states[second.state].frame == ("", 0, "", 0)
    assert (second.x1, second.z1) == (25 * MM, 5 * MM)


def test_a_local_shift_counts_on_top_of_a_work_offset_and_a_preset() -> None:
    trace = run("G21 G99 G97 S500 M03\nG55 G52 X0. Z-4.25\nG00 X50. Z5.\nG50 U2.\nG01 Z0. F.1\nM30\n")
    assert state_of(trace).frame == ("", -MM, "", -425 * MM // 100)
    assert state_of(trace).work_offset == "G55"


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ("G10 P1 X.05 Z-.1", "wear 1 X=0.05 Z=-0.1"),
        ("G10 P1 U.05 W-.1", "wear 1 X by 0.05 Z by -0.1"),
        ("G10 P10003 X-120.5 R.8 Q3", "geometry 3 X=-120.5 nose radius=0.8 nose direction=3"),
        ("G10 L10 P3 R.8", "geometry 3 nose radius=0.8"),
        ("G10 L11 P3 Z1.", "wear 3 Z=1"),
        ("G10 L13 P3 C.02", "wear 3 nose radius by 0.02"),
        ("G10 L2 P1 Z-310.", "work G54 Z=-310"),
        ("G10 L2 P6 X0", "work G59 X=0"),
        ("G10 L2 P0 Z1.", "external Z=1"),
        ("G10 P0 W1.", "external Z by 1"),
        ("G10 L20 P12 Z1.", "work G54.1P12 Z=1"),
    ],
)
def test_g10_is_told_with_the_offset_and_the_values_it_writes(words: str, told: str) -> None:
    """Forms of G10 on lathes of code set A: common practice, no source."""
    trace = run(START + f"{words}\nM30\n")
    assert events(trace, "offset-write") == [told]
    assert codes(trace) == []
    assert len(trace.moves) == 1


@pytest.mark.parametrize("words", ["G10 L50", "G10 L2 P7 Z1.", "G10 L2 P1.5 Z1.", "G10 Z1.", "G10 L30 P1 X1."])
def test_a_form_of_g10_that_nobody_knows_here_is_told_and_what_it_may_shift_is_unknown(words: str) -> None:
    trace = run(START + f"{words}\nG01 W-1. F.1\nM30\n")
    assert events(trace, "unexecuted")[0].startswith("G10 ")
    if "Z" in words or "X" in words:
        assert "G10" in trace.bases[trace.rows()[-1].bz0]
        assert state_of(trace).frame[0]


@pytest.mark.parametrize(
    ("words", "code"), [("G10 P1", "offset-write-without-value"), ("G10 P1 Q10", "nose-direction-wrong")]
)
def test_g10_without_a_value_or_with_one_that_cannot_be_is_a_fault(words: str, code: str) -> None:
    assert code in codes(run(START + f"{words}\nM30\n"))


def test_a_work_offset_written_by_the_program_shifts_what_follows() -> None:
    """Known where the setup sheet gives the old value; else the place is unknown until it is named."""
    text = "G21 G99 G97 S500 M03\nG54 G00 X50. Z5.\nG10 L2 P1 Z-310.\nG01 W-1. F.1\nZ0.\nM30\n"
    known = run(text, setup=setup(G54={"X": "0", "Z": "-300"}))
    assert [(known.bases[row.bz1], row.z1) for row in known.rows()[1:]] == [("", 14 * MM), ("", 0)]
    unknown = run(text)
    assert [unknown.bases[row.bz1] != "" for row in unknown.rows()[1:]] == [True, False]
    for trace in (known, unknown):
        assert trace.states[trace.rows()[-1].state].frame == ("", 0, "Z offset by program", -310 * MM)


def test_two_values_written_are_two_shifts_and_rest_on_the_block_that_wrote_them() -> None:
    one, other = (run(START + f"G10 P0 Z{z}\nG01 Z0. F.1\nM30\n") for z in ("1.", "2."))
    assert state_of(one).frame[3] - state_of(other).frame[3] == -MM
    row = one.rows()[-1]
    set_by = one.set_by[row.set_by][list(FIELDS).index("frame")]
    assert one.origins.blocks(set_by) == (2,)


def test_a_wear_offset_added_to_moves_the_tool_by_just_that_at_the_next_call() -> None:
    """The X value is a diameter: 0.1 on it is 0.05 of radius."""
    text = START + "T0101\nG00 X50. Z5.\nG10 P1 U.1 W-.2\nG01 X40. F.1\nT0101\nX40. W0\nM30\n"
    trace = run(text)
    before, after = trace.rows()[-2:]
    assert trace.states[before.state].frame == ("", 0, "", 0)
    assert trace.states[after.state].frame == ("", MM // 20, "", -MM // 5)
    assert (after.x0, after.x1, after.z1) == (20 * MM - MM // 20, 20 * MM, 5 * MM + MM // 5)
    at_once = run(text, machine({"offset-write-counts": "at-once"}))
    assert at_once.states[at_once.rows()[-2].state].frame == ("", MM // 20, "", -MM // 5)


def test_offset_00_takes_the_written_offsets_out_again() -> None:
    trace = run(START + "G10 P1 X1.\nT0101\nG00 X50. Z5.\nT0100\nX50. Z5.\nM30\n")
    on, off = trace.rows()[-2:]
    assert trace.states[on.state].frame == ("X wear by program", MM // 2, "", 0)
    assert trace.states[off.state].frame == ("", 0, "", 0)
    assert trace.bases[off.bx0] == "X T1/1>T1/0"


def test_another_wear_offset_of_one_tool_shifts_by_the_difference_of_what_was_written() -> None:
    text = START + "G10 P1 X0. Z0.\nG10 P11 X.2 Z.1\nT0101\nG00 X50. Z5.\nT0111\nG01 U0 W0 F.1\nM30\n"
    trace = run(text)
    row = trace.rows()[-1]
    assert (trace.bases[row.bx1], row.x1, row.z1) == ("", 25 * MM - MM // 10, 5 * MM - MM // 10)
    by_offset = run(text, machine({"geometry-offset": "by-offset-number"}))
    assert by_offset.bases[by_offset.rows()[-1].bx1] == "X T1/1>T1/11"


def test_the_geometry_offset_comes_with_the_tool_or_with_the_offset() -> None:
    text = START + "G10 P10001 Z1.\nG10 P10002 Z2.\nT0102\nG00 X50. Z5.\nM30\n"
    for value, ticks in (("by-tool-number", MM), ("by-offset-number", 2 * MM)):
        trace = run(text, machine({"geometry-offset": value}))
        assert state_of(trace).frame[2:] == ("Z geometry by program", ticks)


@pytest.mark.parametrize(
    ("word", "tool", "offset"),
    [
        ("T5", 5, None),
        ("T12", 12, None),
        ("T101", 1, 1),
        ("T0912", 9, 12),
        ("T10110", 101, 10),
        ("T06006", 60, 6),
        ("G00T0303M08", 3, 3),
        ("T0300", 3, 0),
    ],
)
def test_tool_words_of_one_to_five_digits_glued_or_not(word: str, tool: int, offset: int | None) -> None:
    trace = run(START + f"{word}\nG00 X40. Z1.\nM30\n")
    assert (state_of(trace).tool, state_of(trace).offset) == (tool, offset)


def test_a_program_that_leaves_a_shift_behind_shows_it_in_the_state_left() -> None:
    assert run(START + "G52 Z-1.\nM30\n").end.frame == ("", 0, "", -MM)


def test_a_shift_that_each_pass_adds_to_never_settles() -> None:
    """M99 with an increment in each pass: what accumulates is a fault of its own."""
    assert "repeat-does-not-settle" in codes(run("G21 G99 G97 S500 M03\nG10 P1 W.01\nT0101\nG00 X50. Z5.\nM99\n"))
    assert "repeat-does-not-settle" in codes(run("G21 G99 G97 S500 M03\nG00 X50. Z5.\nG50 W-1.\nM99\n"))
    assert codes(run("G21 G99 G97 S500 M03\nG10 P1 Z.01\nT0101\nG00 X50. Z5.\nM99\n")) == []
