"""Every choice that a profile may make is carried out: the values of one choice give different behaviour, or a single value is shown at work."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from fractions import Fraction
from typing import Any

import pytest

from tests.control.running import doings, events, machine, run, state_of
from verifier.control import Kind, Trace
from verifier.findings.examples import sheet
from verifier.geometry import rapid_bend, times
from verifier.machines import CHOICES, FrozenMap, Machine, Tool, Verification

START = "G21 G99 G97 S500 M03\nG00 X50. Z5.\n"
ROUGH = "G71 U2. R1.\nG71 P10 Q20 U.4 W.1 F.2\n"
POCKET = START + ROUGH + "N10 G00 X20. Z2.\nG01 Z-10.\nX16. Z-14.\nZ-20.\nN20 X40.\nM30\n"
NOSE = START + "T0101\nG00 X50. Z5.\n"
THREAD = "G21 G99 G97 S500 M03\nG00 X24. Z4.\nG76 P020060 Q50 R{}\nG76 X18.16 Z-20. P920 Q300 F1.5\nM30\n"

PROGRAMS = {
    "number-without-point": "G21 G99 G97 S500 M03\nG00 X50 Z5\nM30\n",
    "feed-without-point": START + "G01 Z0. F2\nM30\n",
    "rapid-path": START + "G00 X100. Z100.\nM30\n",
    "word-twice": START + "G01 X40. X30. F.2\nM30\n",
    "skip-mid-block": START + "X40. /Z1.\nM30\n",
    "tool-with-motion": START + "T0101 X60.\nM30\n",
    "cut-waits-for-speed": START + "G01 Z0. F.2\nM30\n",
    "clamp-limits-rpm-mode": "G21 G99 G50 S300\nG97 S500 M03\nG00 X50. Z5.\nG01 Z0. F.2\nM30\n",
    "thread-r-unit": THREAD.format("50"),
    "d-of-one-block-cycles": START + "G71 P10 Q20 U.4 W.1 D2000 F.2\nN10 G00 X20.\nG01 Z-10.\nN20 X40.\nM30\n",
    "dwell-p": START + "G04 P1500\nM30\n",
    "dwell-p-with-point": START + "G04 P1.5\nM30\n",
    "dwell-x-u": START + "G04 X2.\nM30\n",
    "feed-after-mode-change": START + "G01 Z0. F.2\nG98\nZ-5.\nM30\n",
    "rough-infeed": START + ROUGH + "N10 G01 X20.\nG01 Z-10.\nN20 X40.\nM30\n",
    "rough-pockets": POCKET,
    "modal-single-cycles": START + "G90 X48. Z-20. F.2\nS600\nM30\n",
    "flank-infeed": THREAD.format(".05"),
    "thread-start-angle": "G21 G99 G97 S500 M03\nG00 X24. Z4.\nG32 Z-20. F1.5 Q90\nM30\n",
    "drill-retract": START + "G83 X0 Z-20. R-1. Q8000 F.1\nG80\nM30\n",
    "drill-r-level": "G21 G90 G95 G97 S500 M03\nG00 X50. Z5.\nG83 X0 Z-20. R2. F.1\nG80\nM30\n",
    "drill-increment": START + "G83 X0 W-20. R-1. F.1\nG80\nM30\n",
    "semicolon": START + "X40. ; X30.\nM30\n",
    "m-after-motion": START + "G01 Z0. F.2 M05\nM30\n",
    "coordinate-preset": START + "G50 X100.\nG01 U0 Z0. F.2\nM30\n",
    "tool-word": START + "T11\nX60.\nT06006\nX60.\nM30\n",
    "geometry-offset": START + "G10 P10001 Z.5\nT0102\nG00 X40. Z1.\nM30\n",
    "offset-write-counts": START + "T0101\nG00 X50. Z5.\nG10 P1 X.5\nG01 X40. F.2\nM30\n",
    "reference-without-axis": START + "G28\nM30\n",
    "corner-words": START + "G01 Z0. ,C1. F.2\nX40.\nZ-10. C1.\nX60.\nM30\n",
    "arc-without-centre": START + "G02 X60. Z0. R10. F.2\nZ-10.\nM30\n",
    "expression-order": START + "X[4+3 AND 1]\nM30\n",
    "logic-operators": START + "X[6 AND 3]\nM30\n",
    "fix-and-fup": START + "Z[FIX[-2.8]]\nM30\n",
    "arcus-range": START + "Z[ATAN[-1]/[1]]\nM30\n",
    "assignments-in-block": START + "#1=10.\n#1=20. X#1\nM30\n",
    "computed-value": START + "X[10/3]\nM30\n",
    "call-repeats": START + "M98 P31000\nM30\nO1000\nG01 W-1. F.2\nM99\n",
    "argument-without-point": START + "G65 P1000 Z10\nM30\nO1000\nG01 Z#26 F.2\nM99\n",
    "unset-in-address": START + "X60. Z#1\nM30\n",
    "common-variables-at-end": START + "#100=1\nM30\n",
    "compensation-entry": NOSE + "G42 G01 X40. Z2. F.2\nZ-10.\nG40 X60.\nM30\n",
    "compensation-outer-corner": NOSE + "G42 G01 X40. Z2. F.2\nZ-10.\nX30.\nG40 Z-20.\nM30\n",
    "compensation-look-ahead": NOSE + "G42 G01 X40. Z2. F.2\nZ-10.\nM08\nM09\nX60.\nG40 X70.\nM30\n",
    "compensation-side-change": NOSE + "G42 G01 X40. Z2. F.2\nZ-10.\nG41 X60.\nZ0.\nG40 X70.\nM30\n",
    "compensation-in-roughing": NOSE + ROUGH + "N10 G00 G42 X20.\nG01 Z-10.\nX30. Z-20.\nN20 X50.\nM30\n",
}
"""For each choice a program in which it matters."""
SHEET = sheet(Tool(1, "turning", nose_radius=Fraction("0.8"), orientation=3))
"""The nose that the programs about compensation are run with."""

CODE_SETS = {"drill-r-level": "B"}
"""Choices that matter in another code set than A."""


def whole_numbers(name: str, value: str) -> Machine:
    """A machine with this value; D of one-block cycles is an integer, so lengths without a point are whole units beside it."""
    other = {"number-without-point": "whole-units"} if name in ("d-of-one-block-cycles", "thread-r-unit") else {}
    return machine({**other, name: value}, code_set=CODE_SETS.get(name, "A"))


def behaviour(trace: Trace, on: Machine) -> Any:
    bends = [rapid_bend(row.x0, row.z0, row.x1, row.z1, on) for row in trace.rows() if row.kind is Kind.RAPID]
    return doings(trace), times(trace, on).total, bends


@pytest.mark.parametrize("name", CHOICES)
def test_each_value_of_a_choice_behaves_in_its_own_way(name: str) -> None:
    assert name in PROGRAMS, f"no program shows what {name} does"
    machines = [whole_numbers(name, value) for value in CHOICES[name].values]
    seen = [behaviour(run(PROGRAMS[name], on, setup=SHEET), on) for on in machines]
    for k, one in enumerate(seen):
        assert all(one != other for other in seen[:k]), f"{CHOICES[name].values[k]} does what another value does"


def test_no_program_stands_here_for_a_choice_that_is_gone() -> None:
    assert set(PROGRAMS) == set(CHOICES)


@pytest.mark.parametrize(
    "name",
    [
        name
        for name in CHOICES
        if name not in ("rapid-path", "cut-waits-for-speed", "clamp-limits-rpm-mode", "dwell-p", "coordinate-preset")
    ],
)
def test_a_choice_that_mattered_and_nobody_verified_is_told_once(name: str) -> None:
    on = machine({name: CHOICES[name].default}, code_set=CODE_SETS.get(name, "A"))
    told = [
        entry for entry in run(PROGRAMS[name], on, setup=SHEET).unchecked if entry.what.startswith(f"choice {name} ")
    ]
    assert len(told) == 1
    seen = replace(on, verified=FrozenMap({name: Verification("setter", date(2024, 5, 6))}))
    assert not any(
        entry.what.startswith(f"choice {name} ") for entry in run(PROGRAMS[name], seen, setup=SHEET).unchecked
    )


# Choices with one value: what it does.


def test_p_of_a_dwell_is_in_milliseconds() -> None:
    assert events(run(PROGRAMS["dwell-p"]), "dwell") == ["3/2 s"]


def test_a_preset_shifts_the_coordinates() -> None:
    trace = run(PROGRAMS["coordinate-preset"])
    assert trace.rows()[-1].x1 == 50 * 10**8
    assert state_of(trace).frame[1] == -25 * 10**8


# What lies behind a semicolon.


def test_text_behind_a_semicolon_is_a_note_or_a_block_that_nobody_reads() -> None:
    note, block = (run(PROGRAMS["semicolon"], machine({"semicolon": value})) for value in ("comment", "end-of-block"))
    assert events(note, "unexecuted") == []
    assert events(block, "unexecuted") == ["; X30."]
    assert block.faults[0].code == "text-after-end-of-block"


def test_a_bare_semicolon_at_the_end_of_a_line_is_the_same_to_both() -> None:
    text = START.replace("\n", ";\n") + "M30;\n"
    assert (
        doings(run(text, machine({"semicolon": "end-of-block"}))) == doings(run(text)) == doings(run(START + "M30\n"))
    )


def test_a_line_that_is_only_a_semicolon_note_is_told_where_it_would_be_a_block() -> None:
    text = START + "; X30.\nM30\n"
    assert any("; X30." in entry.what for entry in run(text, machine({"semicolon": "end-of-block"})).unchecked)


# How a rapid travels.


def test_a_rapid_of_each_axis_bends_where_the_first_axis_arrives() -> None:
    """X at 12 m/min and Z at 16 m/min: over 30 mm of radius and 80 mm, X arrives after 0.15 s, when Z has gone 40 mm."""
    mm = 10**8
    assert rapid_bend(0, 0, 30 * mm, -80 * mm, machine({"rapid-path": "each-axis"})) == (30 * mm, -40 * mm)
    assert rapid_bend(0, 0, 30 * mm, 10 * mm, machine({"rapid-path": "each-axis"})) == (round(7.5 * mm), 10 * mm)
    assert rapid_bend(0, 0, 30 * mm, 40 * mm, machine({"rapid-path": "each-axis"})) is None
    assert rapid_bend(0, 0, 0, 40 * mm, machine({"rapid-path": "each-axis"})) is None
    assert rapid_bend(0, 0, 30 * mm, -80 * mm, machine()) is None


def test_after_text_that_nobody_reads_the_place_is_unknown() -> None:
    trace = run(START + "X40. ; X30.\nG01 U-1. F.1\nM30\n", machine({"semicolon": "end-of-block"}))
    assert trace.bases[trace.rows()[-1].bx0] == "after ; X30."
