"""Variables: what they hold, what an unset or an unknown one does in a word, and what is left when the program ends."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from tests.control.running import MM, codes, doings, ends, events, last, machine, run, state_of
from verifier.control import Trace
from verifier.machines import FrozenMap, Setup

START = "G21 G99 G97 S500 M03\nG00 X50. Z5.\n"


def setup(**variables: str) -> Setup:
    given = FrozenMap((int(name[1:]), Fraction(value)) for name, value in variables.items())
    return Setup("sheet", None, None, FrozenMap(), given, FrozenMap(), (), "d")


def told(trace: Trace) -> list[str]:
    return [entry.what for entry in trace.unchecked if not entry.what.startswith("choice")]


# -- values in words ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("written", "literal"),
    [
        ("#1=40.\nG01 X#1 F.2", "G01 X40. F.2"), ("#1=40\nG01 X#1 F.2", "G01 X40. F.2"), ("#1=40.\nG01 X-#1 F.2", "G01 X-40. F.2"),
        ("#1=2.\nG01 U[#1*#1-3.] W-#1 F[#1/10]", "G01 U1. W-2. F.2"), ("#1=1\nG#1 Z0. F.2", "G01 Z0. F.2"), ("#1=101\nT#1", "T0101"),
        ("#1=900\nS#1 M3\nX40.", "S900 M3\nX40."), ("#1=2\n#2=1\nG04 X##1", "G04 X1."),
        ("#[1+1]=30.\nX#2", "X30."), ("#1=5.\nG02 X60. Z0. R#1 F.1", "G02 X60. Z0. R5. F.1"), ("#1=1500\nG04 P#1", "G04 P1500"),
        ("#1=3000\nG50 S#1\nG96 S[#1/10]\nG01 X40. F.2", "G50 S3000\nG96 S300\nG01 X40. F.2"), ("#20=-2.5\nG00 Z[#20*4.]", "G00 Z-10."),
    ],
)  # fmt: skip
def test_a_variable_is_as_good_as_its_value(written: str, literal: str) -> None:
    assert doings(run(START + written + "\nM30\n")) == doings(run(START + literal + "\nM30\n"))


def test_a_value_from_arithmetic_counts_as_having_a_point_and_a_plain_number_does_not() -> None:
    """X10 is 0.010 mm where least increments count; X[5+5] is 10 mm (read in a manual: a value produced by arithmetic has a point)."""
    assert last(run(START + "X[5+5]\nM30\n")) == (10.0, 5.0)
    assert last(run(START + "X10\nM30\n")) == (0.01, 5.0)


def test_a_length_that_is_no_whole_increment_is_rounded_or_not_as_the_profile_says() -> None:
    """W[10./3] thirty times: 99.99 on a control that rounds each, 100 on one that does not."""
    text = START + "#1=0\nWHILE[#1LT30]DO1\nW-[10./3]\n#1=#1+1\nEND1\nM30\n"
    assert run(text).rows()[-1].z1 == round((5 - 99.99) * MM)
    exact = run(text, machine({"computed-value": "as-computed"}))
    assert abs(exact.rows()[-1].z1 - (5 - 100) * MM) <= 30


def test_inch_words_take_their_value_in_inches() -> None:
    assert last(run("G20 G99 S500 M3\n#1=1.5\nG00 X#1 Z[#1/2]\nM30\n")) == (38.1, 19.05)


# -- unset ----------------------------------------------------------------------------------------------------------------------


def test_a_word_whose_variable_is_unset_is_left_out_and_named() -> None:
    trace = run(START + "G01 X40. Z#1 F.2\nM30\n")
    assert last(trace) == (40.0, 5.0)
    assert codes(trace) == ["variable-unset"]
    alarm = run(START + "G01 X40. Z#1 F.2\nM30\n", machine({"unset-in-address": "alarm"}))
    assert events(alarm, "unexecuted") == ["alarm at Z#1"]


@pytest.mark.parametrize(
    ("text", "x"), [("#2=#1+30.\nX#2", 30.0), ("X[40.-#1]", 40.0), ("#2=#1\nIF[#2EQ#0]THEN X20.", 20.0)]
)
def test_an_unset_variable_counts_as_zero_in_a_sum_and_stays_unset_by_itself(text: str, x: float) -> None:
    trace = run(START + text + "\nM30\n")
    assert last(trace)[0] == x
    assert codes(trace) == ([] if "#0" in text else ["variable-unset"])


def test_unset_is_not_zero_where_it_is_compared_for_equality_and_zero_where_it_is_ordered() -> None:
    for condition, holds in (("#1EQ0", False), ("#1NE0", True), ("#1EQ#0", True), ("#1LT1", True), ("#1GE0", True)):
        assert last(run(START + f"IF[{condition}]THEN X20.\nM30\n"))[0] == (20.0 if holds else 50.0), condition


def test_local_variables_are_unset_when_a_program_starts() -> None:
    assert codes(run(START + "X#33\nM30\n")) == ["variable-unset"]


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("#1=1/0", "division by zero"), ("#1=SQRT[-1]", "below zero"), ("#1=ASIN[1.1]", "greater than one"), ("#300=1", "no variable #300"),
        ("#0=1", "cannot be written"), ("#[1/2]=1", "must be whole"), ("X[5 MOD 0]", "division by zero"), ("#1=10**48", "greater than"),
        ("X[#[-1]]", "must be whole"), ("#1=1.5 AND 3", "not whole"),
    ],
)  # fmt: skip
def test_an_expression_without_a_value_is_a_fault_at_its_block(text: str, why: str) -> None:
    trace = run(START + text + "\nM30\n")
    (fault,) = trace.faults
    assert (fault.code, fault.block) == ("expression-impossible", 2)
    assert why in fault.message
    assert events(trace, "unexecuted")


# -- what only the machine knows ---------------------------------------------------------------------------------------------------


def test_a_variable_that_nobody_set_is_a_symbol_and_says_who_could_have_set_it() -> None:
    trace = run(START + "G01 X#500 F#102\nZ-1.\nM30\n")
    assert (trace.bases[trace.rows()[1].bx1], trace.rows()[1].x1) == ("#500", 0)
    assert state_of(trace).feed == "F[#102]"
    reasons = {entry.what: entry.reason for entry in trace.unchecked}
    assert "kept after power-off" in reasons["#500"]
    assert "X#500" in reasons["#500"]
    assert "common" in reasons["#102"]


def test_a_symbol_goes_through_arithmetic_and_comes_out_equal() -> None:
    one = run(START + "#1=#500*2.+3.\n#2=#1-#500\nG01 X[#2+1.] Z[#1-#1] F.2\nM30\n")
    other = run(START + "G01 X[4.+#500] Z0. F.2\nM30\n")
    assert doings(one) == doings(other)


def test_two_unlike_uses_of_a_symbol_stay_apart() -> None:
    texts = [
        "X#500",
        "X#501",
        "X[#500*2]",
        "X[#500+1.]",
        "X[SIN[#500]]",
        "X[#500*#501]",
        "X[#500/#501]",
        "X[#500MOD2]",
        "U#500",
        "X-#500",
    ]
    seen = [doings(run(START + f"G01 {text} F.2\nM30\n")) for text in texts]
    assert all(one != other for k, one in enumerate(seen) for other in seen[:k])
    assert doings(run(START + "G01 X[#501*#500] F.2\nM30\n")) == seen[5]


def test_the_setup_sheet_gives_what_the_setter_sets() -> None:
    trace = run(START + "G01 X#500 F.2\nM30\n", setup=setup(_500="42.5"))
    assert last(trace) == (42.5, 5.0)
    assert told(trace) == []


def test_a_system_variable_read_twice_need_not_hold_the_same() -> None:
    trace = run(START + "#1=#5041\nG00 X60.\n#2=#5041\nG01 X[#1-#2] F.2\nM30\n")
    assert trace.bases[trace.rows()[-1].bx1] != ""
    assert events(trace, "system-read") == ["#5041", "#5041"]


def test_a_write_to_a_variable_whose_number_is_not_known_makes_all_others_unknown() -> None:
    trace = run(START + "#101=40.\n#[#500]=1.\nG01 X#101 F.2\nM30\n")
    assert "after" in trace.bases[trace.rows()[-1].bx1]
    assert any("#[#500]" in value for value in events(trace, "unexecuted"))


def test_after_a_missing_program_variables_are_unknown() -> None:
    trace = run(START + "#101=40.\nM98 P7001\nG01 X#101 F.2\nM30\n")
    assert "program 7001" in trace.bases[trace.rows()[-1].bx1]


# -- writes -----------------------------------------------------------------------------------------------------------------------


def test_writes_to_kept_and_system_variables_are_events_and_common_ones_are_told_at_the_end() -> None:
    trace = run(START + "#500=1.5\n#101=2.\nX40.\n#101=3.\n#2001=-.05\nM30\n")
    assert [(e.kind, e.value) for e in trace.events] == [
        ("variable", "#500=1.5"), ("variable", "#2001=-0.05"), ("variable", "#101=3"), ("program-end", "M30"),
    ]  # fmt: skip
    assert "#2001=-.05" in told(trace)
    cleared = run(START + "#101=2.\nM30\n", machine({"common-variables-at-end": "cleared"}))
    assert events(cleared, "variable") == []


def test_a_write_of_3000_is_an_alarm_that_ends_the_run_and_of_3006_a_stop() -> None:
    trace = run(START + "#3006=1(MEASURE)\nX40.\n#3000=7(NO BAR)\nX30.\nM30\n")
    assert [(e.kind, e.value) for e in trace.events] == [("stop", "#3006=1 (MEASURE)"), ("alarm", "#3000=7 (NO BAR)")]
    assert last(trace) == (40.0, 5.0)


def test_output_is_an_event_with_the_values_it_prints() -> None:
    trace = run(START + "POPEN\n#101=5.25\nDPRNT[X#101[42]Y#500[42]]\nPCLOS\nM30\n")
    assert events(trace, "message") == ["POPEN", "DPRNT[X#101[42]Y#500[42]] with #101=5.25", "PCLOS"]


# -- who did it -------------------------------------------------------------------------------------------------------------------


def test_a_move_rests_on_every_block_that_its_value_rests_on() -> None:
    trace = run(START + "#1=2.\n#2=#1*3.\n#3=9.\nG01 X#2 Z#3 F#1\nM30\n")
    row = trace.rows()[-1]
    assert set(trace.origins.blocks(row.ox)) == {5, 2, 3}
    assert set(trace.origins.blocks(row.oz)) == {5, 4}
    feed = trace.set_by[row.set_by][trace.states[row.state]._fields.index("feed")]
    assert set(trace.origins.blocks(feed)) == {5, 2}


def test_counting_in_a_loop_makes_no_chain_of_origins_without_end() -> None:
    text = START + "#1=0\nWHILE[#1LT{}]DO1\n#1=#1+1\nG01 X[50.+#1] F.2\nEND1\nM30\n"
    few, many = run(text.format(20)), run(text.format(300))
    assert len(many.origins.block) == len(few.origins.block)


# -- several statements in a block --------------------------------------------------------------------------------------------------


def test_statements_of_one_block_count_in_order_or_after_it_as_the_profile_says() -> None:
    text = START + "#1=10.\n#1=20. X#1\nX#1\nM30\n"
    assert [x for _, x, _ in ends(run(text))[1:]] == [20.0, 20.0]
    late = machine({"assignments-in-block": "after-all-values"})
    assert [x for _, x, _ in ends(run(text, late))[1:]] == [10.0, 20.0]


def test_a_choice_is_asked_for_only_where_it_matters() -> None:
    plain = run(START + "#1=1. #2=2.\nX[FIX[2.5]] Z[ATAN[1]/[1]]\n#3=1 AND 0\nM30\n")
    assert [e.what for e in plain.unchecked if e.what.startswith("choice")] == []


def test_a_comparison_that_hangs_on_the_last_digits_is_told() -> None:
    text = START + "#1=0\nWHILE[#1LT1]DO1\n#1=#1+{}\nEND1\nM30\n"
    assert any("hangs on how the control rounds" in entry.reason for entry in run(text.format(".1")).unchecked)
    assert told(run(text.format(".125"))) == []
    assert told(run(START + "#1=.1\nIF[#1EQ.1]THEN X40.\nM30\n")) == []


def test_variable_numbers_that_a_profile_does_not_have_are_faults() -> None:
    none = machine(variables=replace(machine().variables, kept=None))
    assert codes(run(START + "#500=1.\nM30\n", none)) == ["expression-impossible"]
