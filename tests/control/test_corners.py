"""Corner and angle words: chamfers and rounds to the next move, and ends that follow from an angle.

Expected values are worked out by plane geometry beside each case; that controls read the words so: common practice, no source.
"""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.control.running import MM, codes, ends, events, last, machine, path, run
from verifier.control import Kind
from verifier.machines import Axis, FrozenMap, generic_lathe

START = "G21 G99 G97 S500 M03\nG00 X20. Z0.\nG01 F.2\n"


def corner_of(text: str, **choices: str) -> list[tuple[str, float, float]]:
    trace = run(START + text + "M30\n", machine({k.replace("_", "-"): v for k, v in choices.items()}))
    assert codes(trace) == []
    return ends(trace)[1:]


# -- chamfers and rounds between lines ------------------------------------------------------------------------------------


@pytest.mark.parametrize("word", [",C2.", "C2.", "I2.", "C+2."])
def test_a_chamfer_takes_its_amount_off_both_moves_as_a_radius_value(word: str) -> None:
    """From Z0 to Z-20 at diameter 20, then out: 2 mm before the corner, and 2 mm up, which is diameter 24."""
    assert corner_of(f"Z-20. {word}\nX40.\n") == [("feed", 20, -18), ("feed", 24, -20), ("feed", 40, -20)]


@pytest.mark.parametrize("word", [",R3.", "R3."])
def test_a_round_is_tangent_to_both_moves(word: str) -> None:
    trace = run(START + f"Z-20. {word}\nX40.\nM30\n")
    assert ends(trace)[1:] == [("feed", 20, -17), ("arc_cw", 26, -20), ("feed", 40, -20)]
    row = trace.rows()[2]
    assert (row.cx, row.cz) == (13 * MM, -17 * MM)


def test_a_corner_word_is_its_moves_written_out() -> None:
    """The whole behaviour, but for where single block stops and who is behind what."""
    short = run(START + "Z-20. ,R3.\nX40. ,C1.\nZ-30.\nM30\n")
    long = run(START + "Z-17.\nG02 X26. Z-20. R3.\nG01 X38.\nX40. Z-21.\nZ-30.\nM30\n")
    assert path(short) == path(long)
    assert [row.ends for row in short.rows()[1:]] == [False, True, False, True, True]


def test_a_corner_between_slanting_moves() -> None:
    """Down a line of 45 degrees by (10, -10), then along -Z: the turn is 45 degrees, so the tangents are 4 tan 22.5 degrees long."""
    got = corner_of("X40. Z-10. ,R4.\nZ-30.\n")
    tangent = 4 * math.tan(math.radians(22.5))
    assert got[0][1:] == pytest.approx((40 - 2 * tangent / math.sqrt(2), -10 + tangent / math.sqrt(2)), abs=1e-7)
    assert got[1][0] == "arc_ccw"
    assert got[1][1:] == pytest.approx((40, -10 - tangent), abs=1e-7)


def test_the_block_behind_a_corner_counts_from_the_point_programmed() -> None:
    """Increments, and the centre of an arc, count from the corner as programmed, not from where it was cut."""
    assert corner_of("Z-20. ,C2.\nU20.\nW-5.\n")[-2:] == [("feed", 40, -20), ("feed", 40, -25)]
    assert corner_of("W-20. ,R2.\nU20. W-10.\n")[-1] == ("feed", 40, -30)


def test_corners_one_after_the_other_share_a_move() -> None:
    assert corner_of("Z-20. ,C2.\nX30. ,C3.\nZ-40.\n") == [
        ("feed", 20, -18), ("feed", 24, -20), ("feed", 24, -20), ("feed", 30, -23), ("feed", 30, -40),
    ]  # fmt: skip


def test_a_round_between_moves_on_one_line_is_no_corner() -> None:
    assert corner_of("Z-20. ,R2.\nZ-30.\n") == [("feed", 20, -20), ("feed", 20, -30)]


@pytest.mark.parametrize(("radius", "sense"), [("2.", "arc_cw"), ("0.5", "arc_cw")])
def test_a_round_between_a_line_and_an_arc_touches_both(radius: str, sense: str) -> None:
    """Law: the centre of the round lies its radius from the line, and the sum of both radii from the centre of the arc."""
    trace = run(START + f"Z-20. ,R{radius}\nG03 X40. Z-30. R10.\nM30\n")
    assert codes(trace) == []
    kinds = [row.kind for row in trace.rows()[1:]]
    assert [kind.name.lower() for kind in kinds] == ["feed", sense, "arc_ccw"]
    line, corner, arc = trace.rows()[1:]
    size = float(radius) * MM
    assert math.hypot(corner.cx - corner.x0, corner.cz - corner.z0) == pytest.approx(size, abs=3)
    assert math.hypot(corner.cx - corner.x1, corner.cz - corner.z1) == pytest.approx(size, abs=3)
    assert corner.cx - line.x1 == pytest.approx(size, abs=2)
    assert math.hypot(corner.cx - arc.cx, corner.cz - arc.cz) == pytest.approx(10 * MM + size, abs=3)
    assert math.hypot(arc.x0 - arc.cx, arc.z0 - arc.cz) == pytest.approx(10 * MM, abs=3)


def test_a_round_behind_an_arc_and_one_between_two_arcs() -> None:
    for text in ("G03 X40. Z-10. R10. ,R1.\nG01 X60. Z-20.\n", "G03 X40. Z-10. R10. ,R1.\nG03 X60. Z-20. R10.\n"):
        trace = run(START + text + "M30\n")
        assert codes(trace) == []
        first, corner, then = trace.rows()[1:]
        assert corner.kind is Kind.ARC_CW
        assert math.hypot(corner.cx - first.cx, corner.cz - first.cz) == pytest.approx(11 * MM, abs=3)
        if then.kind.arc:
            assert math.hypot(corner.cx - then.cx, corner.cz - then.cz) == pytest.approx(11 * MM, abs=3)


def test_a_corner_at_an_unknown_place_needs_only_known_distances() -> None:
    trace = run("G21 G99 G97 S500 M03\nG28 U0 W0\nG01 W-20. F.2 ,C2.\nU20.\nM30\n")
    rows = trace.rows()[-3:]
    assert [(trace.bases[r.bx1], r.x1, trace.bases[r.bz1], r.z1) for r in rows] == [
        ("X at reference", 0, "Z at reference", -18 * MM),
        ("X at reference", 2 * MM, "Z at reference", -20 * MM),
        ("X at reference", 10 * MM, "Z at reference", -20 * MM),
    ]


def test_a_corner_rests_on_its_own_block_and_on_the_next() -> None:
    trace = run(START + "Z-20. ,C2.\n(note)\nX40.\nM30\n")
    row = trace.rows()[2]
    assert row.block == 3
    assert set(trace.origins.blocks(row.ox)) >= {3, 4}


def test_a_corner_inside_a_roughed_contour_is_its_moves_written_out() -> None:
    head = START + "G00 X62. Z2.\nG71 U2. R.5\nG71 P10 Q20 U.4 W.1 F.2\nN10 G00 X20.\n"
    short = run(head + "G01 Z-20. ,R3.\nX40. ,C1.\nZ-30.\nN20 X60.\nG70 P10 Q20\nM30\n")
    long = run(head + "G01 Z-17.\nG02 X26. Z-20. R3.\nG01 X38.\nX40. Z-21.\nZ-30.\nN20 X60.\nG70 P10 Q20\nM30\n")
    assert codes(short) == []
    assert ends(short) == ends(long)


# -- lines by their angle -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "x", "z"),
    [
        ("X40. ,A135.", 40.0, -10.0),
        ("Z-10. A135.", 40.0, -10.0),
        ("X40. A150.", 40.0, -10 * math.sqrt(3)),
        ("Z-10. A-10.", 20 + 20 * math.tan(math.radians(10)), -10.0),
        ("W-10. A180.", 20.0, -10.0),
        ("U20. A90.", 40.0, 0.0),
        ("X40. Z-10. A135.", 40.0, -10.0),
    ],
)
def test_the_axis_not_named_follows_from_the_angle(words: str, x: float, z: float) -> None:
    """Angle from +Z towards +X; a negative Z travel at 135 degrees goes outward by as much."""
    assert corner_of(words + "\n")[-1] == ("feed", pytest.approx(x, abs=2e-8), pytest.approx(z, abs=1e-8))


def test_two_lines_meet_by_their_angles() -> None:
    """From (20, 0) along -Z, then by 150 degrees to (40, -30): they meet 10/tan 30 degrees before that."""
    got = corner_of("A180.\nX40. Z-30. A150.\n")
    assert got == [("feed", pytest.approx(20), pytest.approx(-30 + 10 * math.sqrt(3), abs=1e-8)), ("feed", 40, -30)]


def test_a_corner_where_two_lines_meet_by_their_angles() -> None:
    short = run(START + "A180. ,R2.\nX40. Z-30. A90.\nM30\n")
    assert codes(short) == []
    assert path(short) == path(run(START + "Z-30. ,R2.\nX40.\nM30\n"))


def test_a_corner_before_a_line_that_only_the_block_after_it_ends() -> None:
    short = run(START + "Z-10. ,C1.\nA135.\nX60. Z-30. A90.\nM30\n")
    assert codes(short) == []
    assert path(short) == path(run(START + "Z-10. ,C1.\nX60. Z-30.\nX60. Z-30.\nM30\n"))


def test_an_angle_without_a_point_counts_thousandths_of_a_degree() -> None:
    assert corner_of("X40. A135000\n")[-1] == ("feed", 40, pytest.approx(-10))


# -- what a profile says about the words ----------------------------------------------------------------------------------


def test_a_plain_c_on_a_machine_with_a_c_axis_is_no_chamfer() -> None:
    axes = FrozenMap({**generic_lathe().axes, "C": Axis("C", False, None, None, 3600, 1000)})  # type: ignore[arg-type]
    trace = run(START + "Z-20. C2.\nX40.\nM30\n", machine(axes=axes))
    assert ends(trace)[1][1:] == (20, -20)


@pytest.mark.parametrize(("choice", "word"), [("comma", "C2."), ("letter", ",C2.")])
def test_words_that_this_control_does_not_have_are_told_on_the_move(choice: str, word: str) -> None:
    trace = run(START + f"Z-20. {word}\nX40.\nM30\n", machine({"corner-words": choice}))
    assert ends(trace)[1:] == [("feed", 20, -20), ("feed", 40, -20)]
    assert trace.remarks[trace.rows()[1].remark] == word
    assert any(entry.what == word for entry in trace.unchecked)


# -- what cannot be -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("Z-20. ,C21.\nX80.\n", "corner-longer-than-move"),
        ("Z-20. ,R11.\nX40.\n", "corner-longer-than-move"),
        ("Z-20. ,C2.\nX30. ,C4.\nZ-40.\n", "corner-longer-than-move"),
        ("Z-20. ,C2.\n", "corner-without-next-move"),
        ("Z-20. ,C2.\nG00 X40.\n", "corner-without-next-move"),
        ("Z-20. ,C2.\nG54\nX40.\n", "corner-without-next-move"),
        ("Z-20. ,C2.\nM01\nX40.\n", "corner-without-next-move"),
        ("Z-20. ,R2.\nZ-10.\n", "corner-not-possible"),
        ("Z-20. ,R2. ,C2.\nX40.\n", "corner-not-possible"),
        ("Z-20. ,R-2.\nX40.\n", "corner-not-possible"),
        ("Z-20. C-2.\nX40.\n", "corner-not-possible"),
        ("Z-20. I-2.\nX40.\n", "corner-not-possible"),
        ("Z-20. K2.\nX40.\n", "corner-not-possible"),
        ("X30. Z-20. C2.\nX40.\n", "corner-not-possible"),
        ("G17 Z-20. ,C2.\nX40.\n", "corner-in-other-plane"),
        ("X40. A180.\n", "angle-not-possible"),
        ("Z-20. A90.\n", "angle-not-possible"),
        ("X40. Z-20. A45.\n", "angle-not-possible"),
        ("A180.\nX40. A135.\n", "angle-line-without-end"),
        ("A180.\n", "corner-without-next-move"),
        ("A180.\nX40. Z-20. A0.\n", "angle-not-possible"),
    ],
)
def test_a_corner_or_angle_that_cannot_be_is_a_fault_and_told(text: str, code: str) -> None:
    trace = run(START + text + "M30\n")
    assert set(codes(trace)) == {code}
    assert [entry for entry in trace.unchecked if not entry.what.startswith("choice")]


def test_a_line_whose_angle_cannot_be_ends_at_an_unknown_place() -> None:
    trace = run(START + "X40. A180.\nW-1.\nM30\n")
    assert trace.bases[trace.rows()[-1].bz0] == "Z by A180."
    assert events(trace, "unexecuted") == ["line by A180."]


def test_a_chamfer_beside_an_arc_is_told_and_not_guessed() -> None:
    trace = run(START + "Z-20. ,C1.\nG02 X40. Z-30. R10.\nM30\n")
    assert codes(trace) == []
    assert last(trace) == (40, -30)
    assert any("controls measure it in different ways" in entry.reason for entry in trace.unchecked)


def test_a_block_without_motion_behind_a_corner_is_told() -> None:
    trace = run(START + "Z-20. ,C2.\nS600\nX40.\nM30\n")
    assert ends(trace)[2] == ("feed", 24, -20)
    assert any("S600" in entry.what for entry in trace.unchecked)


# -- laws over many contours ------------------------------------------------------------------------------------------------


@st.composite
def staircases(draw: st.DrawFn) -> list[tuple[int, str, int]]:
    """Legs along Z and X in turn: length in hundredths of a millimetre (signed, as the slide goes), the corner behind it, its size."""
    legs = []
    for k in range(draw(st.integers(2, 6))):
        length = draw(st.integers(400, 3000)) * (-1 if k % 2 == 0 else draw(st.sampled_from((1, -1))))
        legs.append((length, draw(st.sampled_from(("", ",C", ",R", "C", "R"))), draw(st.integers(1, 199))))
    return [*legs[:-1], (legs[-1][0], "", 0)]


def _number(hundredths: int) -> str:
    return f"{hundredths / 100:.2f}"


def _short(legs: list[tuple[int, str, int]], *, incremental: bool) -> str:
    lines, place = [], [20000, 0]
    for k, (length, word, size) in enumerate(legs):
        axis = 1 if k % 2 == 0 else 0
        place[axis] += length * (1 if axis else 2)
        letter = ("W" if axis else "U") if incremental else ("Z" if axis else "X")
        value = length * (1 if axis else 2) if incremental else place[axis]
        lines.append(f"{letter}{_number(value)} {word + _number(size) if word else ''}")
    return "\n".join(lines) + "\n"


def _long(legs: list[tuple[int, str, int]]) -> str:
    """Written out by hand: the end of each leg is drawn back by the corner's size, and the corner goes on that far along the next."""
    lines, x, z = [], 20000, 0
    for k, (length, word, size) in enumerate(legs):
        along_z = k % 2 == 0
        back = (size if word else 0) * (1 if length > 0 else -1)
        x, z = (x, z + length) if along_z else (x + 2 * length, z)
        cut_x, cut_z = (x, z - back) if along_z else (x - 2 * back, z)
        lines.append(f"G01 X{_number(cut_x)} Z{_number(cut_z)}")
        if not word:
            continue
        after = legs[k + 1][0]
        on = size * (1 if after > 0 else -1)
        end_x, end_z = (x + 2 * on, z) if along_z else (x, z + on)
        # With Z to the right and X up: from one leg to the next, a turn to the left is counter-clockwise.
        left = (length > 0) == (after > 0) if along_z else (length > 0) != (after > 0)
        code = "G01" if "C" in word else "G03" if left else "G02"
        radius = f" R{_number(size)}" if "R" in word else ""
        lines.append(f"{code} X{_number(end_x)} Z{_number(end_z)}{radius}")
    return "\n".join(lines) + "\n"


@given(staircases())
@settings(max_examples=150, deadline=None)
def test_corner_words_are_the_moves_written_out_absolute_and_incremental(legs: list[tuple[int, str, int]]) -> None:
    start = "G21 G99 G97 S500 M03\nG00 X200. Z0.\nG01 F.2\n"
    written = [start + text + "M30\n" for text in (_short(legs, incremental=False), _short(legs, incremental=True))]
    absolute, incremental = (run(text) for text in written)
    long = run(start + _long(legs) + "M30\n")
    assert codes(absolute) == codes(incremental) == codes(long) == []
    assert path(absolute) == path(incremental)
    assert _near(path(absolute)) == _near(path(long))


def _near(moves: list[tuple[Any, ...]]) -> list[tuple[Any, ...]]:
    """Centres to a tenth of a nanometre: those found for R are rounded."""
    return [
        (*(round(v, -1) if isinstance(v, int) and not isinstance(v, Kind) else v for v in move[:11]), *move[11:])
        for move in moves
    ]


@given(st.integers(-80, 80), st.integers(95, 175), st.integers(50, 300))
@settings(max_examples=100, deadline=None)
def test_a_round_between_any_two_lines_lies_its_radius_from_both(first: int, second: int, hundredths: int) -> None:
    """Law: the arc touches both lines, so its centre lies the radius away from each, and its ends on them."""
    one, two = math.radians(180 + first), math.radians(second)
    text = f"A{180 + first}. W-20. ,R{_number(hundredths)}\nA{second}. W-20.\n"
    trace = run("G21 G99 G97 S500 M03\nG00 X400. Z0.\nG01 F.2\n" + text + "M30\n")
    if codes(trace):
        assert codes(trace) == ["corner-longer-than-move"]
        return
    if len(trace.rows()) == 3:
        assert first == second - 180
        return
    _, line, corner, then = trace.rows()
    corner_x, corner_z = 200 * MM - 20 * MM * math.tan(one), -20 * MM
    for angle, x, z in ((one, corner.x0, corner.z0), (two, corner.x1, corner.z1)):
        off = (corner.cz - corner_z) * math.sin(angle) - (corner.cx - corner_x) * math.cos(angle)
        assert abs(off) == pytest.approx(hundredths * MM / 100, abs=5)
        assert (z - corner_z) * math.sin(angle) - (x - corner_x) * math.cos(angle) == pytest.approx(0, abs=5)
    assert (line.x1, line.z1, then.x0, then.z0) == (corner.x0, corner.z0, corner.x1, corner.z1)
