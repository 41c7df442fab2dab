"""Loops that hang on what only the machine knows: ended after a few passes and told, and no loop that ends is taken for one that does not."""

from __future__ import annotations

from fractions import Fraction
from unittest.mock import patch

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.control.running import codes, ends, program
from tests.work import calls
from verifier.control import Trace, execute_ways
from verifier.control.expressions import Atom, holds
from verifier.machines import generic_lathe

START = "G21 G99 G97 S500 M03\nG00 X50. Z5.\n"
CUT = "G01 W-.01 F.2"


def ways(text: str) -> tuple[Trace, ...]:
    return execute_ways(program(START + text + "\nM30\n"), generic_lathe())


@pytest.mark.parametrize(
    ("loop", "name"),
    [
        (f"#101=0\nWHILE[#102LT10]DO1\n{CUT}\n#101=#101+1\nEND1", "#102"),
        (f"#1=0\nWHILE[#500LT10]DO1\n{CUT}\n#1=#1+1\nEND1", "#500"),
        (f"#1=2\nWHILE[#500LT10]DO1\n{CUT}\n#1=#1*#1\nEND1", "#500"),
        (f"#1=0\nN10 {CUT}\n#1=#1+1\nIF[#500EQ0]GOTO10", "#500"),
        (f"#1=0\nWHILE[#500EQ#0]DO1\n{CUT}\n#1=#1+1\nEND1", "#500"),
        (f"#1=0\nWHILE[#500LT#1]DO1\n{CUT}\n#1=#1+1\nEND1", "#500"),
        (f"#1=0\nN10 {CUT}\n#1=#1-1\nIF[#500GT#1]GOTO10", "#500"),
        (f"#1=0\n#2=#500\nN10 {CUT}\n#1=#1+1\n#3=#2\nIF[#3EQ0]GOTO10", "#500"),
        (f"#1=0\nWHILE[SIN[#500]LT#1]DO1\n{CUT}\n#1=#1+1\nEND1", "SIN[#500]"),
        (f"#1=0\nN10 {CUT}\n#1=#1+1\n#2=FIX[#500]\nIF[#2LT#1]GOTO10", "FIX[#500]"),
        (f"#1=0\nWHILE[[#1LT1000000000]AND[#500GT3]]DO1\n{CUT}\n#1=#1+1\nEND1", "#500"),
    ],
)
def test_a_loop_that_hangs_on_an_unknown_is_ended_after_a_few_passes_and_told(loop: str, name: str) -> None:
    found = ways(loop)
    ended = [trace for trace in found if codes(trace)]
    assert len(found) == 2 and len(ended) == 1
    (trace,) = ended
    assert codes(trace) == (["too-many-blocks"] if "1000000000" in loop else ["loop-without-end"])
    assert len(trace.moves) < 8
    unchecked = {entry.what: entry.reason for entry in trace.unchecked}
    assert "only the machine knows it" in unchecked[name]
    assert unchecked["the rest of the run"] == "it lies behind a loop that is not run to its end"
    assert calls(lambda: ways(loop)) < 100_000


def test_a_loop_without_end_names_the_answers_that_it_never_ends_with() -> None:
    said = [f.message for t in ways(f"IF[#503EQ1]GOTO20\nN10 {CUT}\n#1=#1+1\nIF[#500EQ0]GOTO10\nN20") for f in t.faults]
    assert "with #500 = 0 the loop never ends: nothing that it decides by changes any more" in said
    (only,) = ways(f"N10 {CUT}\nGOTO10")
    assert [f.message for f in only.faults] == ["the loop never ends: nothing that it decides by changes any more"]


ENDS = (
    "#1=0\n#101=0\nN10 #1=#1+1\nIF[#1EQ5]THEN #101=1\nIF[#101EQ0]GOTO10",
    "#1=0\n#100=0\nN10 #1=#1+1\n#[105-#1]=1\nIF[#100EQ0]GOTO10",
    "#1=0\n#101=0\n#102=0\n#103=1\nN10 #1=#1+1\nIF[#[100+#1]EQ0]GOTO10",
    "#105=0\n#100=0\nN10 M98 P9001\nIF[#100EQ0]GOTO10",
    "#1=9001\n#105=0\n#100=0\nN10 M98 P#1\n#1=#1+1\nIF[#100EQ0]GOTO10",
    "#1=0\n#100=0\nN10 #1=#1+1\nG65 P9005 A#1\nIF[#100EQ0]GOTO10",
    "#1=0\n#100=0\nN10 #1=#1+1\n#2=FIX[#1/3]\n#100=#2\nIF[#100EQ0]GOTO10",
)
SUBS = (
    "".join(f"O{n}\n#105=#105+1\nIF[#105GE3]THEN #100=1\nM99\n" for n in range(9001, 9005))
    + "O9005\n#100=FIX[#1/3]\nM99\n"
)


@pytest.mark.parametrize("loop", ENDS)
def test_a_loop_that_is_ended_by_a_detour_is_run_to_its_end(loop: str) -> None:
    """What decides is set at the end of a chain: through a condition, a computed number, a called program."""
    (trace,) = execute_ways(program(START + loop + "\nM30\n" + SUBS), generic_lathe())
    assert (codes(trace), trace.flow_unknown) == ([], False)


@pytest.mark.parametrize(
    "loop",
    [
        f"#1=0\nWHILE[#1LT#500]DO1\n{CUT}\n#1=#1+1\nEND1",
        f"#1=0\nN10 {CUT}\n#1=#1-1\nIF[#500LT#1]GOTO10",
        f"N10 {CUT}\n#500=#500-1\nIF[#500GT0]GOTO10",
    ],
)
def test_a_loop_that_comes_nearer_to_an_unknown_is_not_called_endless(loop: str) -> None:
    """Each pass asks anew: more ways than are followed, so that the order of execution counts as unknown; but each of them ends."""
    found = ways(loop)
    assert [codes(trace) for trace in found] == [[]] * len(found) and all(trace.flow_unknown for trace in found)


# -- against a small interpreter of its own ---------------------------------------------------------------------------------------

_HELD = {"EQ": int.__eq__, "NE": int.__ne__, "LT": int.__lt__, "LE": int.__le__, "GT": int.__gt__, "GE": int.__ge__}
_ENOUGH = 40


Condition = tuple[int | str, str, int | str]
"""One side, how they compare, the other side: a number of a variable, a plain number, or "#500"."""
Statement = tuple[Condition | None, tuple[int, int, int, int, bool]]
"""Under which condition, and #to = #source * factor + number; whether the source counts without its sign."""
Loop = tuple[list[Statement], Condition]


@st.composite
def loops(draw: st.DrawFn) -> Loop:
    """Statements of a loop over #101 to #103, some under a condition, and the condition for another pass; a side may be #500."""
    number, small = st.integers(101, 103), st.integers(-3, 4)
    condition = st.tuples(number, st.sampled_from(sorted(_HELD)), st.one_of(small, st.just("#500"), number))
    setting = st.tuples(number, number, st.sampled_from([0, 1, 1, -1]), small, st.booleans())
    body = draw(st.lists(st.tuples(st.one_of(st.none(), condition), setting), min_size=1, max_size=3))
    again = draw(st.one_of(condition, st.tuples(st.just("#500"), st.sampled_from(sorted(_HELD)), number)))
    return body, again


def _name(side: object) -> str:
    return f"#{side}" if isinstance(side, int) and side > 100 else str(side)


def _text(body: list[Statement], again: Condition) -> str:
    lines = ["#101=0", "#102=1", "#103=2", "N10"]
    for condition, (to, source, factor, number, absolute) in body:
        read = f"ABS[#{source}]" if absolute else f"#{source}"
        opened = f"IF[{_name(condition[0])}{condition[1]}{_name(condition[2])}]THEN " if condition else ""
        lines.append(f"{opened}#{to}={read}*[{factor}]+[{number}]")
    return "\n".join([*lines, f"IF[{_name(again[0])}{again[1]}{_name(again[2])}]GOTO10", "G00 X#101 Z#102", "Z#103"])


def _passes(body: list[Statement], again: Condition, unknown: int) -> tuple[int, dict[int, int]]:
    """How many passes the loop makes (more than enough: that many), and what the variables hold then."""
    held = {101: 0, 102: 1, 103: 2}

    def value(side: int | str) -> int:
        return unknown if isinstance(side, str) else held.get(side, side)

    def true(condition: Condition) -> bool:
        return bool(_HELD[condition[1]](value(condition[0]), value(condition[2])))

    for count in range(1, _ENOUGH):
        for condition, (to, source, factor, number, absolute) in body:
            if condition is None or true(condition):
                held[to] = (abs(held[source]) if absolute else held[source]) * factor + number
        if not true(again):
            return count, held
    return _ENOUGH, held


@given(loop=loops(), unknown=st.integers(-4, 4))
@settings(max_examples=120, deadline=None)
def test_a_loop_is_called_endless_only_where_it_is(loop: Loop, unknown: int) -> None:
    """Whatever #500 is, of the ways that fit it the one run: it ends as the interpreter does, with the same values, or goes on in both."""
    with patch("verifier.control.execute.BLOCK_LIMIT", 12 * _ENOUGH):
        traces = ways(_text(*loop))
    fits = [t for t in traces if all(_answer(b.atom, unknown) == b.taken for b in t.branches)]
    count, held = _passes(*loop, unknown)
    for trace in fits:
        if codes(trace):
            assert count == _ENOUGH, (_text(*loop), unknown, codes(trace))
        else:
            assert count < _ENOUGH
            assert [end[1:] for end in ends(trace)][-2:] == [(held[101], held[102]), (held[101], held[103])]


def _answer(atom: Atom, unknown: int) -> bool:
    operator, bound = atom.operator, atom.bound
    return False if bound is None else holds(operator, Fraction(unknown) - bound)
