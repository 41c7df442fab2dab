"""Jumps, loops and conditions: where a run goes on, and how it ends where it would not end by itself."""

from __future__ import annotations

import pytest

from tests.control.running import codes, doings, ends, events, last, machine, program, run
from tests.work import calls
from verifier.control import execute_ways
from verifier.control.loop_watch import turns_after
from verifier.control.macros import QUESTION_LIMIT
from verifier.machines import FrozenMap, Machine, generic_lathe

START = "G21 G99 G97 S500 M03\nG00 X50. Z5.\n"
SUB = "O9000\nG01 W-1. F.2\nM99\n"


def z_of(text: str) -> float:
    return last(run(START + text))[1]


# -- loops -------------------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("loop", "passes"),
    [
        ("#1=0\nWHILE[#1LT3]DO1\nG01 W-1. F.2\n#1=#1+1\nEND1", 3), ("#1=5\nWHILE[#1LT3]DO1\nG01 W-1. F.2\nEND1", 0),
        ("#1=3\nN10 G01 W-1. F.2\n#1=#1-1\nIF[#1GT0]GOTO10", 3), ("#1=0\nDO2\nG01 W-1. F.2\n#1=#1+1\nIF[#1GE4]GOTO20\nEND2\nN20", 4),
        ("#1=0\nWHILE[#1LT2]DO1\n#2=0\nWHILE[#2LT3]DO2\nG01 W-1. F.2\n#2=#2+1\nEND2\n#1=#1+1\nEND1", 6),
        ("#1=0\nN10\nIF[#1EQ2]GOTO20\nG01 W-1. F.2\n#1=#1+1\nGOTO10\nN20", 2), ("#1=2\nWHILE[#1]DO1\nG01 W-1. F.2\n#1=#1-1\nEND1", 2),
        ("#9=30\nGOTO#9\nG01 W-1. F.2\nN30 G01 W-1. F.2", 1), ("#9=2\nGOTO[#9*15]\nG01 W-1. F.2\nN30 G01 W-1. F.2", 1),
        ("IF[[1EQ1]AND[2EQ3]]GOTO30\nG01 W-1. F.2\nN30", 1), ("IF[[1EQ1]OR[2EQ3]]GOTO30\nG01 W-1. F.2\nN30", 0),
        ("#1=0\nWHILE[#1LT2]DO1\n#1=#1+1\nGOTO20\nN20 END1\nG01 W-1. F.2", 1), ("IF[1EQ1]THEN G01 W-1. F.2", 1), ("IF[1EQ2]THEN G01 W-1. F.2", 0),
    ],
)  # fmt: skip
def test_a_run_passes_as_often_as_its_statements_say(loop: str, passes: int) -> None:
    trace = run(START + loop + "\nM30\n")
    assert last(trace)[1] == 5 - passes
    assert (codes(trace), trace.flow_unknown) == ([], False)


def test_a_jump_looks_forward_first_and_then_from_the_start_of_its_program() -> None:
    text = "N5 G01 W-1. F.2\n#1=#1+1\nIF[#1GT2]GOTO9\n{}N5 G01 W-10. F.2\nN9 M30\n"
    assert z_of("#1=0\n" + text.format("GOTO5\n")) == 5 - 1 - 10
    assert codes(run(START + "#1=0\n" + text.format("GOTO5\n"))) == ["jump-label-repeated"]
    other = "O9000\nN9 G01 W-1. F.2\nGOTO9\nN8 M99\n"
    assert codes(run(START + "GOTO9\nM30\n" + other)) == ["jump-label-missing"]


def test_m99_p_returns_to_the_label_of_the_calling_program() -> None:
    text = START + "M98 P9000\nG01 W-5. F.2\nN20 M30\nO9000\nN20 G01 W-1. F.2\nM99 P20\n"
    assert last(run(text))[1] == 4


def test_a_skipped_loop_statement_is_not_there() -> None:
    text = START + "#1=0\n/GOTO30\nG01 W-1. F.2\nN30 M30\n"
    assert (last(run(text))[1], last(run(text, skips_on=(1,)))[1]) == (5.0, 4.0)


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("GOTO77", "jump-label-missing"), ("IF[1EQ1]GOTO77", "jump-label-missing"), ("WHILE[1EQ1]DO1", "loop-wrong"), ("END1", "loop-wrong"),
        ("DO1\nDO2\nEND1\nEND2", "loop-wrong"), ("#1=0\nWHILE[#1LT1]DO4\n#1=1\nEND4", "loop-wrong"),
        ("GOTO5\nWHILE[1EQ2]DO1\nN5 X60.\nEND1", "jump-into-loop"),
    ],
)  # fmt: skip
def test_a_jump_or_a_loop_that_leads_nowhere_is_a_fault(text: str, code: str) -> None:
    assert code in codes(run(START + text + "\nM30\n"))


def test_after_a_jump_to_nowhere_the_run_is_over_and_says_so() -> None:
    trace = run(START + "GOTO77\nX1.\nM30\n")
    assert len(trace.moves) == 1
    assert events(trace, "unexecuted") == ["GOTO77"]


# -- programs that would never end: work is counted, never timed ------------------------------------------------------------------


ENDLESS = (
    "N10 GOTO10", "N10 G01 W-1. F.2\nGOTO10", "#1=0\nN10 #1=#1+1\nGOTO10", "WHILE[1EQ1]DO1\nG01 W-1. F.2\nEND1", "DO1\nEND1",
    "#1=0\n#2=0\nWHILE[#1LT5]DO1\n#2=#2+1\nEND1", "#1=0\nWHILE[#1LT5]DO1\n#1=#1-1\nEND1", "#1=0\nN10 #1=1-#1\nIF[#1LT5]GOTO10",
    "#1=.5\nWHILE[#1NE3]DO1\n#1=#1+1\nEND1", "#1=0\nWHILE[#1GE0]DO1\n#2=0\nWHILE[#2LT3]DO2\n#2=#2+1\nEND2\nEND1",
    "#1=0\nN10 #1=#1+1\n#2=#1*2-1\nIF[#2NE0]GOTO10", "N10 M98 P9001\nGOTO10", "N10 M98 P9002", "#1=0\nWHILE[#1LT9]DO1\nM98 P9001\nEND1",
)  # fmt: skip


@pytest.mark.parametrize("loop", ENDLESS)
def test_a_loop_without_end_is_found_after_a_few_passes(loop: str) -> None:
    text = START + loop + "\nM30\nO9001\nG01 W-1. F.2\nM99\nO9002\nM99 P10\n"
    trace = run(text)
    assert codes(trace) == ["loop-without-end"]
    assert events(trace, "unexecuted") == ["the rest of the run"]
    assert calls(lambda: run(text)) < 60_000


COUNTED = (
    "#1=0\nWHILE[#1LT10000000000000000]DO1\n#1=#1+1\nEND1", "#1=10**16\nN10 G01 W-.001 F.2\n#1=#1-1\nIF[#1GT0]GOTO10",
    "#1=0\nWHILE[#1LT100000000]DO1\n#2=0\nWHILE[#2LT100000000]DO2\n#2=#2+1\nEND2\n#1=#1+1\nEND1",
    "#1=0\nWHILE[#1LE1]DO1\nG01 W-.01 F.2\n#1=#1+.0000001\nEND1",
)  # fmt: skip


@pytest.mark.parametrize("loop", COUNTED)
def test_a_loop_of_ten_to_the_sixteenth_passes_ends_in_a_clear_fault(loop: str) -> None:
    text = START + loop + "\nM30\n"
    trace = run(text)
    assert codes(trace) == ["too-many-blocks"]
    assert len(trace.moves) < 10
    assert calls(lambda: run(text)) < 60_000


def test_a_loop_whose_value_is_lost_asks_so_often_and_no_more() -> None:
    """Each pass makes another unknown of the one before, and decides by it: no state ever repeats."""
    trace = run(START + "#1=1.000001\nWHILE[#1NE0]DO1\n#1=#1*#1\nEND1\nM30\n")
    assert codes(trace) == ["expression-impossible", "too-many-blocks"]
    assert trace.flow_unknown
    assert len(trace.unchecked) < 2 * QUESTION_LIMIT
    assert len(trace.branches) == QUESTION_LIMIT + 1


def test_a_sum_of_unknowns_that_grows_in_a_loop_stays_bounded() -> None:
    """Factors that grow as fast as here would soon have thousands of digits; such a sum is then an unknown by its own name."""
    grown = START + "N5 #100=#100+#101\n#101=#101+#100\n#1=#1+1\nIF[#1LT3000]GOTO5\nG01 X#100 F.1\nM30\n"
    trace = run(grown)
    assert all(len(entry.what) < 3000 for entry in trace.unchecked)
    assert trace.bases[trace.rows()[-1].bx1]
    assert doings(trace) == doings(run(grown))


def test_a_loop_within_the_limits_is_run_to_its_end() -> None:
    trace = run(START + "#1=0\nWHILE[#1LT2000]DO1\n#1=#1+1\nG01 W-.01 F.2\nEND1\nM30\n")
    assert (len(trace.moves), codes(trace)) == (2001, [])


def test_a_loop_that_ends_by_no_plain_sum_is_run_until_it_ends() -> None:
    """FIX[#1/50] stands still for 49 passes: that is no reason to call the loop endless."""
    trace = run(START + "#1=0\nWHILE[FIX[#1/50]LT3]DO1\n#1=#1+1\nEND1\nG01 Z-[#1/100] F.2\nM30\n")
    assert (last(trace)[1], codes(trace)) == (-1.5, [])


def test_the_same_loop_run_again_is_not_taken_for_one_without_end() -> None:
    loop = "O9001\n#1=0\nWHILE[#1LT3]DO1\nG01 W-1. F.2\n#1=#1+1\nEND1\nM99\n"
    trace = run(START + "M98 P9001 L3\nM98 P9001\nM30\n" + loop)
    assert (last(trace)[1], codes(trace)) == (5 - 12, [])
    contour = "N10 G00 X20.\n#1=0\nWHILE[#1LT3]DO1\nG01 W-3. F.2\nU2.\n#1=#1+1\nEND1\nN20 G01 X50.\n"
    rough = run(START + "G71 U2. R1.\nG71 P10 Q20 U.4 W.1 F.2\n" + contour + "G70 P10 Q20\nG70 P10 Q20\nM30\n")
    assert codes(rough) == []
    assert [call.code for call in rough.cycles].count("G71") == 1


@pytest.mark.parametrize(
    ("operator", "distance", "rise"),
    [(op, d, r) for op in ("EQ", "NE", "LT", "LE", "GT", "GE") for d in (-4, -3, 0, 3, 4) for r in (-2, -1, 0, 1, 2)],
)
def test_where_a_comparison_turns_is_where_trying_finds_it(operator: str, distance: int, rise: int) -> None:
    from fractions import Fraction

    from verifier.control.expressions import holds

    outcome = holds(operator, Fraction(distance))
    tried = next((k for k in range(1, 50) if holds(operator, Fraction(distance + k * rise)) != outcome), None)
    assert turns_after(operator, outcome, Fraction(distance), Fraction(rise)) == tried


def test_a_program_that_calls_itself_with_other_arguments_ends_by_them() -> None:
    text = START + "G65 P9001 A3.\nM30\nO9001\nG01 W-1. F.2\nIF[#1LE1]GOTO9\nG65 P9001 A[#1-1.]\nN9 M99\n"
    trace = run(text)
    assert (last(trace)[1], codes(trace)) == (2.0, [])


@pytest.mark.parametrize("argument", ["A#1", "A[#1-1.]", "A[#1-1.]\nG65 P9001 A[#1-2.]"])
def test_a_program_that_calls_itself_without_end_is_named(argument: str) -> None:
    text = START + f"G65 P9001 A1.\nM30\nO9001\nG01 W-1. F.2\nG65 P9001 {argument}\nM99\n"
    assert set(codes(run(text))) == {"call-too-deep"}
    assert calls(lambda: run(text)) < 100_000


# -- questions that only the machine can answer ---------------------------------------------------------------------------------------


def ways(text: str) -> list[tuple[str, float]]:
    from verifier.control import way_text

    found = execute_ways(program(START + text), generic_lathe())
    return [(way_text(trace.branches, every=True), last(trace)[1]) for trace in found]


def test_a_branch_on_an_unknown_is_followed_both_ways() -> None:
    assert ways("IF[#500EQ1]GOTO10\nG01 W-1. F.2\nN10 M30\n") == [("#500 not 1", 4.0), ("#500 = 1", 5.0)]
    assert [w for w, _ in ways("IF[#500GE3]GOTO10\nG01 W-1. F.2\nN10 M30\n")] == ["#500 below 3", "#500 at least 3"][
        ::-1
    ]


def test_an_answer_once_given_holds_and_what_follows_from_it_is_not_asked() -> None:
    text = "IF[#500EQ1]GOTO10\nIF[#500EQ2]GOTO10\nIF[#500GT5]GOTO10\nIF[#500GT4]GOTO10\nG01 W-1. F.2\nN10 M30\n"
    assert len(ways(text)) == 5
    twice = "IF[#500LT3]THEN G01 W-1. F.2\nIF[#500LT3]THEN G01 W-1.\nIF[3GT#500]THEN G01 W-1.\nIF[#500LT9]THEN G01 W-1.\nM30\n"
    assert sorted(z for _, z in ways(twice)) == [1.0, 4.0, 5.0]


def test_a_condition_of_several_questions_asks_only_as_far_as_it_must() -> None:
    found = ways("IF[[#606NE0]OR[#1002NE1]]GOTO130\nG01 W-1. F.2\nN130 M30\n")
    assert len(found) == 3
    assert sorted(z for _, z in found) == [4.0, 5.0, 5.0]


def test_more_ways_than_the_budget_leave_the_flow_unknown() -> None:
    text = "".join(f"IF[#{n}EQ1]THEN G01 W-1. F.2\n" for n in range(500, 508))
    found = execute_ways(program(START + text + "M30\n"), generic_lathe())
    assert all(trace.flow_unknown for trace in found)
    few = execute_ways(program(START + text[: text.index("IF[#502")] + "M30\n"), generic_lathe())
    assert (len(few), any(trace.flow_unknown for trace in few)) == (4, False)


def test_waiting_for_an_input_is_not_a_loop_without_end() -> None:
    found = execute_ways(program(START + "N10 IF[#1000EQ0]GOTO10\nG01 W-1. F.2\nM30\n"), generic_lathe())
    assert all(codes(trace) == [] for trace in found)


def test_what_an_unknown_decides_is_named_with_who_could_have_set_it() -> None:
    trace = run(START + "N130 IF[#606NE0]GOTO130\nM30\n")
    (entry,) = [entry for entry in trace.unchecked if entry.what == "#606"]
    assert "IF[#606NE0]GOTO130" in entry.reason and "setter" in entry.reason and entry.block == 2


def test_a_jump_to_an_unknown_label_leaves_the_flow_unknown() -> None:
    assert run(START + "GOTO#500\nM30\n").flow_unknown


# -- programs that repeat -----------------------------------------------------------------------------------------------------------


def test_a_part_counter_does_not_keep_a_repeating_program_from_settling() -> None:
    trace = run(START + "G01 Z0. F.2\n#500=#500+1\nM99\n")
    assert codes(trace) == []
    assert events(trace, "repeat") == ["M99", "M99"]
    moving = run(START + "#100=0\nN20 G01 Z#100 F.2\n#100=#100-1\nM99 P20\n")
    assert codes(moving) == ["repeat-does-not-settle"]


# -- laws ----------------------------------------------------------------------------------------------------------------------------


def test_a_loop_is_its_passes_written_out() -> None:
    loop = "#1=0\nWHILE[#1LT4]DO1\nG01 X[40.-#1*2.] Z-[#1] F[.1+#1/20]\n#1=#1+1\nEND1\nM30\n"
    out = "".join(f"G01 X{40 - 2 * k}. Z-{k}. F{0.1 + k / 20:.2f}\n" for k in range(4)) + "M30\n"
    assert doings(run(START + loop))[0] == doings(run(START + out))[0]


def test_an_ellipse_in_a_loop_is_its_points_computed_apart() -> None:
    from math import cos, radians, sin

    text = "#1=0\nWHILE[#1LE90]DO1\nG01 X[40.*SIN[#1]] Z[20.*COS[#1]-20.] F.1\n#1=#1+15\nEND1\nM30\n"
    wanted = [(40 * sin(radians(a)), 20 * cos(radians(a)) - 20) for a in range(0, 91, 15)]
    found = [(x, z) for _, x, z in ends(run(START + text))[1:]]
    assert len(found) == len(wanted)
    assert all(
        abs(a - b) <= 0.0005 for one, other in zip(found, wanted, strict=True) for a, b in zip(one, other, strict=True)
    )


def test_the_arguments_of_a_call_whose_program_is_not_at_hand_are_told() -> None:
    told = [
        events(run(START + f"G65 P9000 {given}\nM30\n"), "missing-program")
        for given in ("A1. B2.", "A1.0B2.", "A1. B3.", "A1.")
    ]
    assert told[0] == ["P9000 L1 #1=1 #2=2"]
    assert told[0] == told[1] and told[0] != told[2] and told[0] != told[3]


@pytest.mark.parametrize("given", ["P9000 P9001", "P9000 A1. A2.", "P9000 L2 L3"])
def test_a_letter_that_stands_twice_in_a_call_is_a_fault(given: str) -> None:
    assert "word-twice" in codes(run(START + f"G65 {given}\nM30\n"))
    assert "word-twice" not in codes(run(START + "G65 P9000 I1. I2. K3.\nM30\n"))


# -- codes that the machine profile binds to a program -----------------------------------------------------------------------------

BOUND = "O9010\nG01 X[#24] Z[#26] F.1\nM99\nO9001\nG01 U-1. F.1\nM99\n"


def bound() -> Machine:
    return machine(calls=FrozenMap({"G101": 9010, "M96": 9001}), label_calls=(97,))


def test_a_g_code_of_the_profile_calls_its_program_with_arguments() -> None:
    text = START + "{call} X40. Z-5.\nM30\n" + BOUND
    trace = run(text.format(call="G101"), bound())
    assert codes(trace) == []
    assert doings(trace) == doings(run(text.format(call="G65 P9010"), bound()))
    assert last(trace) == (40, -5)
    twice = run(START + "G101 X40. Z-5. L2\nM30\n" + BOUND, bound())
    assert len(ends(twice)) == len(ends(trace)) + 1


def test_an_m_code_of_the_profile_calls_its_program_behind_its_block() -> None:
    trace = run(START + "G00 X40. M96\nM96 L3\nM30\n" + BOUND, bound())
    assert codes(trace) == []
    assert [x for _, x, _ in ends(trace)] == [50, 40, 39, 38, 37, 36]


def test_an_m_code_of_the_profile_calls_a_block() -> None:
    trace = run(START + "M97 P100 L3\nM30\nN100 G01 U-1. F.1\nM99\n", bound())
    assert codes(trace) == []
    assert [x for _, x, _ in ends(trace)] == [50, 49, 48, 47]
    assert not [entry for entry in trace.unchecked if "M97" in entry.what]
    assert codes(run(START + "M97\nM30\n", bound())) == ["call-without-program"]


@pytest.mark.parametrize("words", ["G101 X40.", "M96", "M97 P100"])
def test_on_another_machine_the_code_is_not_known_and_a_bound_program_may_be_missing(words: str) -> None:
    assert [
        entry.what
        for entry in run(START + words + "\nM30\nN100 M99\n" + BOUND).unchecked
        if entry.what.startswith(words[:3])
    ]
    if words != "M97 P100":
        assert codes(run(START + words + "\nM30\n", bound())) == ["subprogram-missing"]
