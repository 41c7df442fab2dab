"""The order of execution: skips, calls, repeats, returns, ends; and programs that would never end."""

from __future__ import annotations

import pytest

from tests.control.running import MM, codes, doings, ends, events, last, machine, program, run
from verifier.control import execute_part, layout, sequences
from verifier.control.run import BLOCK_LIMIT, MOVE_LIMIT
from verifier.machines import generic_lathe
from verifier.source import MachineError

START = "G21 G99 G97 S500 M03\nG00 X50. Z5.\n"
SUB = "O1000\nG01 W-1. F.2\nM99\n"


def z_of(text: str, **how: object) -> float:
    return last(run(text, **how))[1]  # type: ignore[arg-type]


# -- block skip ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("block", "on", "z"),
    [
        ("/Z1.", (), 1), ("/Z1.", (1,), 5), ("/1 Z1.", (1,), 5), ("/2Z1.", (1,), 1), ("/2 Z1.", (2,), 5), ("/2 Z1.", (1, 2), 5),
        ("N5 /Z1.", (1,), 5), ("/ Z1.", (1,), 5), ("X50. /Z1.", (1,), 5), ("X50. /Z1.", (), 1), ("X50. /3 Z1.", (3,), 5),
    ],
)  # fmt: skip
def test_a_skip_mark_skips_what_follows_it_while_its_switch_is_on(block: str, on: tuple[int, ...], z: float) -> None:
    assert z_of(START + block + "\nM30\n", skips_on=on) == z


def test_a_skipped_macro_statement_is_not_executed() -> None:
    on, off = (run(START + "/GOTO 5\n/2#100=1\nM30\n", skips_on=skips) for skips in ((1, 2), ()))
    assert (codes(on), events(on, "variable")) == ([], [])
    assert (codes(off), events(off, "variable")) == (["jump-label-missing"], [])


def test_a_skip_mark_in_mid_block_stops_a_control_that_does_not_allow_it() -> None:
    trace = run(START + "X50. /Z1.\nM30\n", machine({"skip-mid-block": "not-allowed"}))
    assert codes(trace) == ["skip-in-mid-block"]
    assert events(trace, "unexecuted") == ["alarm at a skip mark"]
    assert codes(run(START + "N5 /Z1.\nM30\n", machine({"skip-mid-block": "not-allowed"}))) == []


# -- outside the per cent signs -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("%\n" + START + "Z1.\nM30\n%\n", []),
        ("%\n" + START + "M30\n%\nZ1.\nM30\n", []),  # nothing runs behind the program's end
        ("%\n" + START + "%\nZ1.\nM30\n", ["the run behind the end mark %"]),
        ("%\n" + START + "M98 P1000\nM98 P1000\nM30\n%\n" + SUB, ["the run behind the end mark %"]),
        ("G21\n%\n" + START + "M30\n%\n", ["the run before the start mark %"]),
    ],
)
def test_whether_a_control_runs_what_stands_outside_the_per_cent_signs_is_not_known(text: str, told: list[str]) -> None:
    assert events(run(text), "unexecuted") == told


# -- calls --------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("call", "depth"),
    [
        ("P1000", 1),
        ("P1000 L3", 3),
        ("P31000", 3),
        ("P0031000", 3),
        ("P00011000", 1),
        ("L2 P1000", 2),
        ("P1000 Q7", 2),
        ("P1000 Q8", 1),
    ],
)
def test_a_call_runs_the_program_as_often_as_it_says(call: str, depth: int) -> None:
    """P and L, or the leading digits of P: read in course texts; Q as a label: common practice, no source."""
    body = "O1000\nN7 G01 W-1. F.2\nN8 W-1.\nM99\n" if "Q" in call else SUB
    for ending in ("M98 {}\nM30\n", "G97 S600\nM98 {} \nM30\n"):
        assert z_of(START + ending.format(call) + body) == 5 - depth


def test_a_called_program_is_found_in_the_file_first_and_then_in_the_library() -> None:
    other = "O1000\nG01 W-3. F.2\nM99\n"
    assert z_of(START + "M98 P1000\nM30\n", library=[other]) == 2
    assert z_of(START + "M98 P1000\nM30\n" + SUB, library=[other]) == 4


def test_what_a_library_program_does_counts_for_the_block_that_called_it() -> None:
    trace = run(START + "M98 P1000\nM30\n", library=[SUB])
    assert [row.block for row in trace.rows()] == [1, 2]
    assert len(trace.executed) == 4


def test_a_label_in_the_same_program_can_be_called() -> None:
    assert z_of(START + "M98 Q50\nM30\nN50 G01 W-1. F.2\nM99\n") == 4


def test_m99_with_a_label_returns_to_that_block() -> None:
    text = START + "M98 P1000\nG00 Z100.\nN20 X60.\nM30\nO1000\nG01 W-1. F.2\nM99 P20\n"
    assert last(run(text)) == (60.0, 4.0)


def test_words_beside_a_call_are_carried_out_before_it() -> None:
    assert ends(run(START + "G01 Z0. F.2 M98 P1000\nM30\n" + SUB))[-2:] == [("feed", 50.0, 0.0), ("feed", 50.0, -1.0)]


@pytest.mark.parametrize(
    ("call", "code"),
    [
        ("M98 P2000", "subprogram-missing"), ("M98 P1000 Q99", "subprogram-missing"), ("M98 Q99", "subprogram-missing"),
        ("M98", "call-without-program"), ("M98 L3", "call-without-program"), ("M98 P1000 L0", "call-repeats-wrong"),
        ("M98 P1000 L-2", "call-repeats-wrong"), ("M98 P1.5", "call-without-program"), ("M98 P1000 L1.5", "call-without-program"),
        ("M98 P1000 Q1.5", "call-without-program"),
    ],
)  # fmt: skip
def test_a_call_that_cannot_be_made_is_a_fault_and_told(call: str, code: str) -> None:
    trace = run(START + call + "\nM30\n" + SUB)
    assert codes(trace) == [code]
    assert events(trace, "unexecuted", "missing-program")


def test_after_a_missing_program_the_place_is_unknown() -> None:
    trace = run(START + "M98 P2000\nG01 W-1. F.2\nM30\n")
    assert trace.bases[trace.rows()[-1].bz0] == "after program 2000"


def test_m99_to_a_label_that_is_not_there_is_told_in_a_subprogram_and_in_the_main_program() -> None:
    for text in (START + "M98 P1000\nM30\nO1000\nM99 P77\n", START + "M99 P77\n"):
        trace = run(text)
        assert "return-label-missing" in codes(trace)
        assert "M99 P77" in events(trace, "unexecuted")


def nested(depth: int) -> str:
    subs = [f"O{k}\nM98 P{k + 1}\nM99\n" for k in range(1001, 1000 + depth)] + [f"O{1000 + depth}\nG01 W-1. F.2\nM99\n"]
    return START + "M98 P1001\nM30\n" + "".join(subs)


def test_calls_go_ten_deep_and_no_deeper() -> None:
    ten, eleven = run(nested(10)), run(nested(11))
    assert (codes(ten), last(ten)[1]) == ([], 4)
    assert codes(eleven) == ["call-too-deep"]
    assert len(eleven.moves) == 1


@pytest.mark.parametrize("body", ["M98 P1000\n", "M98 P1001\nM99\nO1001\nM98 P1000\n"])
def test_a_program_that_calls_itself_is_named(body: str) -> None:
    trace = run(START + "M98 P1000\nM30\nO1000\n" + body + "M99\n")
    assert codes(trace) == ["call-too-deep"]
    assert events(trace, "program-end") == ["M30"]


def test_a_subprogram_without_m99_is_named_with_the_repeats_it_loses() -> None:
    trace = run(START + "M98 P1000 L3\nM30\nO1000\nG01 W-1. F.2\n")
    assert codes(trace) == ["subprogram-without-return"]
    assert events(trace, "unexecuted") == ["2 more repeats"]


# -- ends ---------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("code", ["M30", "M02"])
def test_a_program_end_ends_it_and_resets_what_the_profile_says(code: str) -> None:
    trace = run(START + f"M08\n{code}\nX1.\n")
    assert (events(trace, "program-end"), len(trace.moves)) == ([code], 1)
    assert (trace.end.sense, trace.end.coolant) == ("stopped", "off")
    assert trace.executed.tolist() == [True, True, True, True, False]


def test_a_program_without_an_end_is_named() -> None:
    trace = run(START)
    assert codes(trace) == ["program-end-missing"]
    assert events(trace, "text-end") == ["the text ends"]


def test_an_end_in_a_subprogram_ends_the_program() -> None:
    trace = run(START + "M98 P1000\nX60.\nM30\nO1000\nM30\n")
    assert last(trace) == (50.0, 5.0)


def test_a_file_may_begin_with_its_main_program_without_a_number() -> None:
    assert [unit.number for unit in layout(program(START + "M30\n" + SUB)).units] == [None, 1000]
    assert [unit.number for unit in layout(program("%\nG21\nO1000\nM30\n")).units] == [1000]


def test_the_state_before_the_program_is_only_what_a_reset_restores() -> None:
    trace = run("M30\n")
    assert (trace.end.compensation, trace.end.plane, trace.end.work_offset) == ("G40", "G18", "G54")
    assert (trace.end.feed_mode, trace.end.speed_mode, trace.end.speed, trace.end.tool) == (None, None, None, None)


def test_a_part_is_executed_with_nothing_established_before_it() -> None:
    text = START + "T0101\nM30\nN2 G00 X40.\nM30\n"
    trace = execute_part(program(text), generic_lathe(), 4, 6)
    assert trace.bases[trace.rows()[0].bx0] == "X before the program"
    assert trace.states[0].sense is None


def test_another_kind_of_machine_is_refused() -> None:
    with pytest.raises(MachineError):
        run("M30\n", machine(kind="mill"))


# -- programs that start again --------------------------------------------------------------------------------------------


def test_m99_in_the_main_program_runs_on_until_its_state_repeats() -> None:
    trace = run(START + "G01 Z0. F.2\nM99\n")
    assert codes(trace) == []
    assert events(trace, "repeat") == ["M99", "M99"]
    assert (trace.first_pass, len(trace.moves)) == (2, 4)


def test_what_accumulates_from_pass_to_pass_is_named() -> None:
    trace = run(START + "G01 W-1. F.2\nG00 X50.\nG50 Z6.\nM99\n")
    assert codes(trace) == ["repeat-does-not-settle"]


def test_a_kept_cycle_word_is_part_of_the_state_that_must_repeat() -> None:
    """The first pass repeats nothing yet (no cycle stands before it), later ones do: the pass after the first must be run."""
    trace = run("G21 G99 G97 S500 M03 F.2\nG00 X50. Z5.\nG90 X40. Z-5.\nX38.\nM99\n")
    assert len(events(trace, "repeat")) == 2


def test_m99_p_in_the_main_program_goes_on_at_its_label() -> None:
    trace = run(START + "N20 G01 W-1. F.2\nG00 Z5.\nM99 P20\n")
    assert (events(trace, "repeat"), len(trace.moves)) == (["M99 P20", "M99 P20"], 5)


# -- programs made to exhaust the reader: counted, never timed ------------------------------------------------------------


@pytest.mark.parametrize("repeats", [10**9, 10**39])
def test_a_billion_repeats_end_quickly_and_are_named(repeats: int) -> None:
    trace = run(START + f"M98 P1000 L{repeats}\nX60.\nM30\n" + SUB)
    assert codes(trace) == ["too-many-blocks"]
    assert events(trace, "unexecuted") == [f"{repeats - 2} more repeats"]
    assert len(trace.moves) < 10
    assert "more repeats" in trace.bases[trace.rows()[-1].bz1]  # each repeat goes on from where the one before ended


def test_the_place_after_repeats_that_all_end_alike_stays_known() -> None:
    trace = run(START + "M98 P1000 L1000000000\nG01 W-1.\nM30\nO1000\nG01 Z-1. F.2\nM99\n")
    assert last(trace) == (50.0, -2.0)
    assert trace.bases[trace.rows()[-1].bz1] == ""


def test_nested_repeats_of_ten_to_the_sixteenth_are_named() -> None:
    text = START + "M98 P1001 L100000000\nM30\nO1001\nM98 P1000 L100000000\nM99\n" + SUB
    trace = run(text)
    assert set(codes(trace)) == {"too-many-blocks"}
    assert len(trace.moves) < 20
    assert events(trace, "program-end") == ["M30"]


def test_repeats_within_the_limits_are_all_executed() -> None:
    trace = run(START + "M98 P1000 L2000\nM30\n" + SUB)
    assert (len(trace.moves), codes(trace)) == (2001, [])
    assert trace.rows()[-1].z1 == (5 - 2000) * MM


def test_a_call_whose_repeats_make_too_many_moves_is_cut_short() -> None:
    groove = "O1000\nG00 X60. Z-5.\nG75 R.1\nG75 X40. P10 F.1\nM99\n"
    trace = run(START + "M98 P1000 L100000\nM30\n" + groove)
    assert codes(trace) == ["too-many-blocks"]
    assert len(trace.moves) * 100000 > MOVE_LIMIT
    assert len(trace.moves) < 10000


def test_the_limits_are_the_promised_ones() -> None:
    assert (BLOCK_LIMIT, MOVE_LIMIT) == (1_000_000, 5_000_000)


def test_a_groove_with_a_peck_of_one_increment_is_counted_not_written_out() -> None:
    trace = run(START + "G00 X600. Z0.\nG75 R.1\nG75 X0. P1 F.1\nM30\n")
    assert codes(trace) == ["too-many-strokes"]
    assert len(trace.moves) == 2


@pytest.mark.parametrize(
    ("cycle", "contour"),
    [
        ("G71 U.001 R.1\nG71 P10 Q20 U0 W0 F.2", "N10 G00 X20.\nG01 Z-900.\nN20 X9000."),
        ("G73 U5. W0 R999999\nG73 P10 Q20 U0 W0 F.2", "N10 G00 X20. Z0.\nG01 Z-900.\nN20 X9000."),
        ("G72 W.001 R.1\nG72 P10 Q20 U0 W0 F.2", "N10 G00 Z-900.\nG01 X20.\nN20 Z900."),
    ],
)
def test_a_roughing_cycle_with_an_absurd_amount_is_counted_not_written_out(cycle: str, contour: str) -> None:
    trace = run(START + f"G00 X9000. Z900.\n{cycle}\n{contour}\nM30\n")
    assert "too-many-strokes" in codes(trace)
    assert len(trace.moves) < 10


def test_contours_that_nest_themselves_are_refused() -> None:
    trace = run(START + "N10 G70 P10 Q20\nN20 G00 X20.\nM30\n")
    assert codes(trace) == ["cycle-in-contour"]
    again = run(START + "G71 U1. R1.\nG71 P10 Q20 U0 W0 F.2\nN10 G71 P10 Q20\nN20 G00 X20.\nM30\n")
    assert "cycle-in-contour" in codes(again)


def test_a_loop_of_unknown_shifts_does_not_grow_without_end() -> None:
    trace = run(START + "M98 P1000 L500\nM30\nO1000\nG01 W-1. F.2\nT0101\nT0102\nG50 X1.\nG28 U0\nG50 X100.\nM99\n")
    assert max(map(len, trace.bases)) < 600
    assert max(len(state.frame[0]) for state in trace.states) < 2000


def test_sequences_of_a_program_are_entered_at_their_search_numbers() -> None:
    text = "O1\nG21 G99\n(ROUGH)\nN1 T0101\nG00 X50. Z5.\nM01\n(FINISH)\nN2 T0202\nG00 X50. Z5.\nM30\n"
    found = sequences(program(text), generic_lathe())
    assert [(s.label, s.tool, s.offset, s.note) for s in found] == [("N1", 1, 1, "ROUGH"), ("N2", 2, 2, "FINISH")]
    lower = sequences(program(text.replace("N", "n ").replace("T0", "t 0")), generic_lathe())
    assert [s.label for s in lower] == ["N1", "N2"]


def test_execution_is_the_same_on_every_run() -> None:
    text = START + "M98 P1000 L3\nG42 G01 X40. Z-3. F.2\nG40\nM99\n" + SUB
    assert doings(run(text)) == doings(run(text))
    assert run(text).unchecked == run(text).unchecked


def test_moves_settled_into_columns_on_the_way_are_the_same_moves(monkeypatch: pytest.MonkeyPatch) -> None:
    body = "O1000\nG01 W-1. F.2\nG75 R.1\nG75 U-4. P500\nG28 U0\nG00 X50.\nM99\n"
    text = START + "M98 P1000 L20\nG28 U0 W0\nM99\n" + body
    whole = run(text)
    monkeypatch.setattr("verifier.control.recorder._MANY", 7)
    parts = run(text)
    assert whole.rows() == parts.rows()
    assert (whole.events, whole.cycles, whole.first_pass) == (parts.events, parts.cycles, parts.first_pass)
    assert len(whole.moves) > 300


LOOP = "G21 G99 G97 S500 M03 F.2\nG00 X50. Z5.\nM98 P1000 L{}\nM30\nO1000\nG01 W-1.\nU1. W-2.\nT0101\nT0102\nU-1.\nG00 W3.\nM99\n"


def test_increments_in_a_loop_name_the_same_blocks_however_often_it_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    short = run(LOOP.format(40))
    monkeypatch.setattr("verifier.control.recorder._CHAIN", 0)
    full = run(LOOP.format(40))
    assert len(short.moves) == len(full.moves)
    for one, other in zip(short.rows(), full.rows(), strict=True):
        for a, b in ((one.ox, other.ox), (one.oz, other.oz)):
            assert set(short.origins.blocks(a, 1000)) == set(full.origins.blocks(b, 1000))
            assert short.origins.blocks(a, 1) == full.origins.blocks(b, 1)


def test_increments_in_a_loop_make_no_chain_without_end() -> None:
    few, many = run(LOOP.format(20)), run(LOOP.format(400))
    assert len(many.origins.block) == len(few.origins.block)
