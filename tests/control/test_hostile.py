"""Whatever stands in a program: execution and timing end, raise nothing, and stay within their bounds."""

from __future__ import annotations

from math import isfinite

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.control.running import program
from verifier.control import execute, sequences, ways_in
from verifier.control.run import MOVE_LIMIT
from verifier.geometry import cutting_moves, spent, spent_by_sequence, times
from verifier.machines import generic_lathe

VALUES = st.one_of(
    st.integers(-99999, 99999).map(str),
    st.decimals(-999, 999, places=3, allow_nan=False).map(str),
    st.sampled_from(
        [
            "0",
            "1000",
            "10",
            "20",
            "." + "0" * 30 + "1",
            "9" * 39,
            "-" + "9" * 30 + ".9",
            "#100",
            "[1+#2]",
            "",
            "+",
            "1.2.3",
        ]
    ),
)
WORDS = st.one_of(
    st.tuples(st.sampled_from("XZUWFSTPQRIKDALNMGCBYEHJOV"), VALUES).map("".join),
    st.sampled_from(
        [
            "G00",
            "G01",
            "G02",
            "G03",
            "G32",
            "G28 U0 W0",
            "G50 S2000",
            "G96",
            "G97",
            "G71",
            "G70 P10 Q20",
            "G73",
            "G75",
            "G76",
        ]
    ),
    st.sampled_from(
        [
            "G90",
            "G92",
            "G94",
            "G20",
            "G21",
            "G98",
            "G99",
            "G54.1 P3",
            "M03",
            "M30",
            "M98 P1000",
            "M98 P1000 L99",
            "M99",
            "N10",
            "N20",
        ]
    ),
    st.sampled_from(
        [
            "/",
            "/2",
            "O1000",
            ";X5.",
            "(NOTE)",
            "%",
            "#1=[2*3]",
            "IF[#1GT2]GOTO10",
            "WHILE[1EQ1]DO1",
            "END1",
            ",R2.",
            "X5.",
            "Z-5.",
            "F.2",
        ]
    ),
)
LINES = st.lists(st.lists(WORDS, max_size=6).map(" ".join), max_size=14)


@given(LINES, st.booleans(), st.sets(st.integers(1, 3)))
@settings(max_examples=250, deadline=None)
def test_any_program_is_executed_and_timed_to_an_end(lines: list[str], headed: bool, skips: set[int]) -> None:
    head = ["G21 G99 G97 S500 M03 F.2", "G00 X50. Z5.", "T0101", "G00 X50. Z5."] if headed else []
    text = "\n".join([*head, *lines, ""])
    if not text.strip("% \n"):
        return
    parsed, lathe = program(text), generic_lathe()
    trace = execute(parsed, lathe, skips_on=sorted(skips))
    assert len(trace.moves) < MOVE_LIMIT
    assert len(trace.executed) == len(parsed.blocks)
    found = times(trace, lathe)
    assert isfinite(found.total)
    assert found.total >= 0
    parts = sequences(parsed, lathe)
    cuts = cutting_moves(trace, None)
    assert abs(spent(found, trace, cuts).total - found.total) <= 1e-9 * max(1, found.total)
    by_sequence = spent_by_sequence(found, trace, parts, cuts)
    assert abs(sum(one.total for one in by_sequence) - found.total) <= 1e-6 * max(1, found.total)
    ways_in(parsed, lathe, parts)
    again = execute(parsed, lathe, skips_on=sorted(skips))
    assert (again.events, again.unchecked, again.faults) == (trace.events, trace.unchecked, trace.faults)
