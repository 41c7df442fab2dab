"""Canned cycles called from words: the strokes are those that the cycle functions give for the same numbers; and what a call can lack."""

from __future__ import annotations

from fractions import Fraction

import pytest

from tests.control.running import INCH, MM, codes, doings, events, machine, path, run, state_of
from verifier.control import Trace, cycles
from verifier.control.strokes import Contour, Expansion, Kind, Point, Segment, Stroke

START = "G21 G99 G97 S500 M03 F.2\nG00 X62. Z2.\n"
CONTOUR = "N10 G00 X20.\nG01 Z-10. F.1\nX30. Z-20.\nN20 Z-30.\n"
AT = Point(31 * MM, 2 * MM)


def um(value: float) -> int:
    return round(value * MM)


def contour() -> Contour:
    points = [AT, Point(um(10), um(2)), Point(um(10), um(-10)), Point(um(15), um(-20)), Point(um(15), um(-30))]
    kinds = [Kind.RAPID, Kind.FEED, Kind.FEED, Kind.FEED]
    return Contour(
        tuple(Segment(kind, points[k], points[k + 1], 4 + k) for k, kind in enumerate(kinds)), names_both_axes=False
    )


def moves_of(trace: Trace) -> list[tuple[Kind, int, int, str]]:
    """Kind, end and step of the moves of the trace's one cycle."""
    (call,) = trace.cycles
    rows = trace.rows()[call.first_move : call.first_move + call.moves]
    return [(row.kind, row.x1, row.z1, trace.steps[row.step]) for row in rows]


def wanted(expansion: Expansion) -> list[tuple[Kind, int, int, str]]:
    assert isinstance(expansion, tuple)
    return [(s.kind, s.end.x, s.end.z, s.step) for s in expansion if isinstance(s, Stroke)]


@pytest.mark.parametrize(
    "words",
    [
        "G71 U2. R.8\nG71 P10 Q20 U.4 W.1",
        "G71 P10 Q20 U.4 W.1 D2.",
        "G71 U2. R.8\nG71 P10 Q20 U.4 W.1 F.3 S700",
    ],
)
def test_rough_turning_in_both_forms(words: str) -> None:
    one_block = "D2." in words
    trace = run(START + f"{words}\n{CONTOUR}M30\n")
    expected = cycles.rough_turn(
        AT, contour(), um(2), um(0.5 if one_block else 0.8), um(0.2), um(0.1), Kind.RAPID, False
    )
    assert moves_of(trace) == wanted(expected)
    assert len(moves_of(trace)) > 20


def test_rough_facing() -> None:
    text = "G72 W2. R.8\nG72 P10 Q20 U.4 W.1\nN10 G00 Z-30.\nG01 X30. F.1\nZ-10. X20.\nN20 Z2.\nM30\n"
    points = [AT, Point(AT.x, um(-30)), Point(um(15), um(-30)), Point(um(10), um(-10)), Point(um(10), um(2))]
    kinds = [Kind.RAPID, Kind.FEED, Kind.FEED, Kind.FEED]
    shape = Contour(tuple(Segment(k, points[n], points[n + 1], 4 + n) for n, k in enumerate(kinds)), False)
    expected = cycles.rough_face(AT, shape, um(2), um(0.8), um(0.2), um(0.1), Kind.RAPID, False)
    assert moves_of(run(START + text)) == wanted(expected)


@pytest.mark.parametrize("words", ["G73 U5. W3. R4\nG73 P10 Q20 U.4 W.1", "G73 P10 Q20 I5. K3. U.4 W.1 D4"])
def test_pattern_repeating_in_both_forms(words: str) -> None:
    expected = cycles.pattern_repeat(AT, contour(), um(5), um(3), um(0.2), um(0.1), 4)
    assert moves_of(run(START + f"{words}\n{CONTOUR}M30\n")) == wanted(expected)


@pytest.mark.parametrize("words", ["G75 R.3\nG75 X40. Z-6. P2500 Q2000 R.2", "G75 X40. Z-6. I2.5 K2. D.2"])
def test_grooving_in_both_forms(words: str) -> None:
    retract = um(0.3 if "P2500" in words else 0.5)
    expected = cycles.groove(AT, Point(um(20), um(-6)), um(2.5), um(2), um(0.2), retract)
    assert moves_of(run(START + f"{words}\nM30\n")) == wanted(expected)


@pytest.mark.parametrize(
    "words",
    [
        "G74 R.3\nG74 X40. Z-16. P2500 Q4000 R.2",
        "G74 X40. Z-16. I2.5 K4. D.2",
        "G74 R.3\nG74 U-22. W-18. P2500 Q4000 R.2",
    ],
)
def test_face_pecking_in_both_forms(words: str) -> None:
    retract = um(0.5 if "I2.5" in words else 0.3)
    expected = cycles.face_peck(AT, Point(um(20), um(-16)), um(4), um(2.5), um(0.2), retract)
    assert moves_of(run(START + f"{words}\nM30\n")) == wanted(expected)


@pytest.mark.parametrize(
    ("words", "minimum", "allowance", "passes", "angle", "pull_out", "taper"),
    [
        ("G76 P020560 Q50 R.04\nG76 X18.16 Z-20. P920 Q300 F1.5", 0.05, 0.04, 2, 600, 0.75, 0),
        ("G76 P010029 Q100 R.02\nG76 X18.16 Z-20. R-.5 P920 Q300 F1.5", 0.1, 0.02, 1, 290, 0, -0.5),
        ("G76 X18.16 Z-20. I-.5 K.92 D.3 A60 F1.5", 0.05, 0, 1, 600, 1.5, -0.5),
    ],
)
def test_multi_pass_threading_in_both_forms(
    words: str, minimum: float, allowance: float, passes: int, angle: int, pull_out: float, taper: float
) -> None:
    trace = run("G21 G99 G97 S500 M03\nG00 X24. Z4.\n" + words + "\nM30\n")
    expected = cycles.multi_thread(
        Point(12 * MM, 4 * MM), Point(um(9.08), um(-20)), um(taper), um(0.92), um(0.3), um(minimum), um(allowance),
        passes, angle, um(pull_out), um(1.5), "single-flank",
    )  # fmt: skip
    assert moves_of(trace) == wanted(expected)
    thread = next(row for row in trace.rows() if row.kind is Kind.THREAD)
    assert trace.states[thread.state].feed == Fraction("1.5")


def test_amounts_in_inch_use_the_inch_increment() -> None:
    trace = run("G20 G99 G97 S500 M03\nG00 X1. Z.2\nG76 P020060 Q20 R.002\nG76 X.7 Z-1. P360 Q120 F.0625\nM30\n")
    expected = cycles.multi_thread(
        Point(INCH // 2, INCH // 5), Point(7 * INCH // 20, -INCH), 0, 36 * INCH // 1000, 12 * INCH // 1000, 2 * INCH // 1000,
        2 * INCH // 1000, 2, 600, 0, INCH // 16, "single-flank",
    )  # fmt: skip
    assert moves_of(trace) == wanted(expected)


SINGLES = [
    ("G90 X40. Z-20.", lambda: cycles.turning_pass(AT, Point(um(20), um(-20)), 0)),
    ("G90 U-22. W-22.", lambda: cycles.turning_pass(AT, Point(um(20), um(-20)), 0)),
    ("G90 X40. Z-20. R-1.", lambda: cycles.turning_pass(AT, Point(um(20), um(-20)), um(-1))),
    ("G90 X40. Z-20. I-1.", lambda: cycles.turning_pass(AT, Point(um(20), um(-20)), um(-1))),
    ("G94 X40. Z-1.", lambda: cycles.facing_pass(AT, Point(um(20), um(-1)), 0)),
    ("G94 X40. Z-1. R-.5", lambda: cycles.facing_pass(AT, Point(um(20), um(-1)), um(-0.5))),
    ("G94 X40. Z-1. K-.5", lambda: cycles.facing_pass(AT, Point(um(20), um(-1)), um(-0.5))),
    ("G92 X40. Z-20. F1.5", lambda: cycles.thread_pass(AT, Point(um(20), um(-20)), 0, um(1.5), um(1.5))),
]


@pytest.mark.parametrize(("words", "expected"), SINGLES)
def test_single_cycles(words: str, expected: object) -> None:
    assert moves_of(run(START + words + "\nM30\n")) == wanted(expected())  # type: ignore[operator]


def test_a_block_with_one_axis_repeats_a_single_cycle_with_the_words_it_kept() -> None:
    """X alone repeats with the stored Z, R and F: common practice, no source."""
    short = run(START + "G90 X58. Z-20. R-1.\nX56.\nX54. Z-18.\nG00 X70.\nM30\n")
    long = run(START + "G90 X58. Z-20. R-1.\nG90 X56. Z-20. R-1.\nG90 X54. Z-18. R-1.\nG00 X70.\nM30\n")
    assert path(short) == path(long)
    assert len(short.cycles) == 3


def test_repeating_the_code_of_a_single_cycle_in_force_or_leaving_it_out_makes_no_difference() -> None:
    again = run(START + "G90 X58. Z-20.\nG90 X56.\nM30\n")
    assert doings(again) == doings(run(START + "G90 X58. Z-20.\nX56.\nM30\n"))
    assert any("again without its Z" in entry.what for entry in again.unchecked)


def test_another_motion_code_ends_a_single_cycle_and_forgets_its_words() -> None:
    trace = run(START + "G90 X58. Z-20.\nG00 X60.\nG90 X56.\nM30\n")
    depth = {row.z1 for row in trace.rows()[-3:]}
    assert depth == {2 * MM}  # no Z is kept: the pass has no length


@pytest.mark.parametrize(("choice", "count"), [("only-with-axis-word", 1), ("every-block", 2)])
def test_a_block_without_an_axis_word_repeats_a_single_cycle_only_where_the_profile_says_so(
    choice: str, count: int
) -> None:
    trace = run(START + "G90 X58. Z-20.\nS600\nM30\n", machine({"modal-single-cycles": choice}))
    assert len(trace.cycles) == count


LACKING = [
    ("G71 P10 Q20 U.4 W.1", "cycle-amount-missing"),
    ("G71 U2. R1.\nG71 P10 U.4 W.1", "cycle-amount-missing"),
    ("G71 U2. R1.\nG71 Q20 U.4 W.1", "cycle-amount-missing"),
    ("G71 U2. R1.\nG71 P11 Q20 U.4 W.1", "contour-label-missing"),
    ("G71 U2. R1.\nG71 P10 Q21 U.4 W.1", "contour-label-missing"),
    ("G71 U2. R1.\nG71 P20 Q10 U.4 W.1", "contour-label-missing"),
    ("G71 U2. R1.\nG71 P1.5 Q20 U.4 W.1", "integer-word-with-point"),
    ("G71", "cycle-amount-missing"),
    ("G73 P10 Q20 U.4 W.1", "cycle-amount-missing"),
    ("G70 P10", "cycle-amount-missing"),
    ("G70 P11 Q20", "contour-label-missing"),
    ("G75 R.3\nG75 X40. P2.5", "integer-word-with-point"),
    ("G75 R.3\nG75 X40. Z-5. P2500", "step-missing"),
    ("G76 P020060 Q50 R.04\nG76 X18. Z-20. Q300 F1.5", "cycle-amount-missing"),
    ("G76 P020060 Q50 R.04\nG76 X18. Z-20. P920 F1.5", "cycle-amount-missing"),
    ("G76 P020060 Q50 R.04\nG76 X18. Z-20. P.92 Q300 F1.5", "integer-word-with-point"),
]


@pytest.mark.parametrize(("words", "code"), LACKING)
def test_a_cycle_called_without_what_it_needs_is_a_fault_and_told_as_it_stands(words: str, code: str) -> None:
    trace = run(START + f"{words}\n{CONTOUR}M30\n")
    assert code in codes(trace)
    assert events(trace, "unexecuted")
    assert trace.cycles == ()


def test_a_cycle_from_an_unknown_place_is_told_and_makes_no_move() -> None:
    trace = run("G21 G99 G97 S500 M03\nG75 R.3\nG75 X40. P2500 F.1\nM30\n")
    assert (len(trace.moves), len(events(trace, "unexecuted"))) == (0, 1)


def test_a_repeated_label_is_a_fault_and_the_one_ahead_is_taken() -> None:
    trace = run(START + f"G71 U2. R1.\nG71 P10 Q20 U.4 W.1\n{CONTOUR}G00 X70.\n{CONTOUR}M30\n")
    assert "contour-label-repeated" in codes(trace)
    assert trace.cycles[0].contour == (4, 5, 6, 7)


def test_execution_goes_on_behind_the_contour() -> None:
    trace = run(START + f"G71 U2. R1.\nG71 P10 Q20 U.4 W.1\n{CONTOUR}G00 X77.\nM30\n")
    (call,) = trace.cycles
    after = trace.rows()[call.first_move + call.moves :]
    assert [(row.block, row.x1) for row in after] == [(8, 77 * MM // 2)]
    assert trace.executed.all()


def test_blocks_between_the_cycle_and_its_contour_are_taken_to_be_passed_over_and_that_is_told() -> None:
    near = run(START + "G71 U2. R0.5\nG71 P10 Q20 U0.4 W0.1 F0.3\n" + CONTOUR + "M30\n")
    far = run(START + "G71 U2. R0.5\nG71 P10 Q20 U0.4 W0.1 F0.3\nG00 X70.\n" + CONTOUR + "M30\n")
    told = "the blocks between the cycle and N10"
    assert told not in [entry.what for entry in near.unchecked]
    assert told in [entry.what for entry in far.unchecked]


def test_a_cycle_that_is_not_expanded_is_told_with_what_its_first_line_left_in_millimetres() -> None:
    trace = run(START + "G71 U2.5 R0.5\nG71 P10 Q99 U0.4 W0.1 F0.3\n" + CONTOUR + "M30\n")
    assert any("[depth 2.5 mm, retract 0.5 mm]" in event.value for event in trace.events)


@pytest.mark.parametrize("finish", ["G70 P10 Q20", "G00 X64.\nG70 P10 Q20 F.05"])
def test_the_finish_finds_the_contour_behind_it_and_returns_to_its_start(finish: str) -> None:
    trace = run(START + f"G71 U2. R1.\nG71 P10 Q20 U.4 W.1\n{CONTOUR}{finish}\nM30\n")
    call = trace.cycles[-1]
    rows = trace.rows()[call.first_move : call.first_move + call.moves]
    assert [row.block for row in rows] == [4, 5, 6, 7, call.block]
    assert (rows[-1].kind, rows[-1].x1, rows[-1].z1) == (Kind.RAPID, rows[0].x0, rows[0].z0)
    assert [trace.states[row.state].feed for row in rows[1:4]] == [Fraction("0.1")] * 3
    assert trace.callers[rows[1].caller][0] == call.block


def test_a_finish_in_front_of_its_contour_passes_nothing_over_and_that_is_told() -> None:
    """The finish runs its contour, comes back and goes on behind its own block (CHECKS 3.6, common practice); so the tool call is made."""
    between = "T0303\nG97 S700\nG00 X62. Z2.\n"
    trace = run(START + "G70 P10 Q20\n" + between + CONTOUR + "G00 X70.\nM30\n")
    assert [event.value for event in trace.events if event.kind == "tool"] == ["T3 offset 3"]
    cuts = [(row.x1, row.z1) for row in trace.rows() if row.kind is Kind.FEED]
    assert cuts == [(um(10), um(-10)), (um(15), um(-20)), (um(15), um(-30))] * 2
    assert any("stand behind the finish line" in entry.reason for entry in trace.unchecked)


def test_feeds_of_the_contour_wait_for_the_finish() -> None:
    """F, S and T between the labels are ignored while roughing and used by the finish: read in public course texts."""
    trace = run(START + f"G71 U2. R1.\nG71 P10 Q20 U.4 W.1 F.3\n{CONTOUR}G01 X70.\nM30\n")
    cuts = [trace.states[row.state].feed for row in trace.rows() if row.kind.cuts]
    assert set(cuts) == {Fraction("0.3")}


def test_a_contour_run_dry_leaves_no_trace_in_the_state() -> None:
    busy = CONTOUR.replace("Z-10. F.1", "Z-10. F.1 S900 G42").replace("N20 Z-30.", "N20 Z-30. G40 G96")
    trace = run(START + f"G71 U2. R1.\nG71 P10 Q20 U.4 W.1\n{busy}G01 X70.\nM30\n")
    state = state_of(trace)
    assert (state.feed, state.speed, state.speed_mode, state.compensation) == (Fraction("0.2"), 500, "rpm", "G40")
    assert events(trace, "tool", "unexecuted") == []


def test_m_codes_of_a_contour_that_is_only_roughed_are_told() -> None:
    trace = run(START + f"G71 U2. R1.\nG71 P10 Q20 U.4 W.1\n{CONTOUR.replace('N20 Z-30.', 'N20 Z-30. M09')}M30\n")
    assert any(entry.what == "M9" and "roughed" in entry.reason for entry in trace.unchecked)


def test_a_contour_with_something_unknown_is_refused_and_told_with_its_words() -> None:
    trace = run(START + f"G71 U2. R1.\nG71 P10 Q20 U.4 W.1\n{CONTOUR.replace('Z-10.', 'Z-#501')}M30\n")
    (told,) = events(trace, "unexecuted")
    assert "Z-#501" in told
    assert trace.cycles == ()


def test_a_finish_that_breaks_off_loses_the_place() -> None:
    trace = run(START + f"G70 P10 Q20\n{CONTOUR.replace('Z-10.', 'Z-10. M30')}G01 W-1.\nM30\n")
    assert "flow-code-in-contour" in codes(trace)
    assert "broken off G70" in trace.bases[trace.rows()[-1].bz0]


def test_a_cycle_under_nose_compensation_is_told() -> None:
    trace = run(START + "G42\nG90 X40. Z-20.\nM30\n")
    assert any(entry.what == "G90 under G42" for entry in trace.unchecked)


@pytest.mark.parametrize("choice", ["mode-of-first-contour-block"])
def test_the_infeed_of_roughing_goes_in_the_mode_of_the_first_contour_block(choice: str) -> None:
    rapid, feeding = (
        run(
            START + f"G71 U2. R1.\nG71 P10 Q20 U.4 W.1\n{CONTOUR.replace('G00', code)}M30\n",
            machine({"rough-infeed": choice}),
        )
        for code in ("G00", "G01")
    )
    assert [row.kind for row in rapid.rows()] != [row.kind for row in feeding.rows()]
    assert [(row.x1, row.z1) for row in rapid.rows()] == [(row.x1, row.z1) for row in feeding.rows()]
