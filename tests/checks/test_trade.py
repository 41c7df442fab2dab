"""Facts of the trade, held by running small programs. Every one of them: common practice, no source."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from tests.control.running import at_once
from verifier import ChangeReport, examine, review
from verifier.control import Kind, execute
from verifier.findings.examples import sheet
from verifier.geometry import spindle_speed, times
from verifier.machines import Setup, Tool, generic_lathe, load_machine, load_setup
from verifier.source import read_source
from verifier.syntax import parse

ROOT = Path(__file__).parents[2]
HEAD = "O1\nN1 G00 G21 G40 G54 G97 G99\nT0101\nG50 S1800\nG96 S220 M03\nG00 X64. Z2. M08\n"
TAIL = "G00 X100. Z50.\nM09\nM05\nG97\nM30\n"


def program(body: str, head: str = HEAD, tail: str = TAIL) -> bytes:
    return (head + body + tail).encode()


def rules(report: ChangeReport, *statuses: str) -> set[str]:
    return {f.rule for f in report.findings if not statuses or f.status in statuses}


def test_a_clamp_before_constant_surface_speed_means_the_spindle_never_exceeds_it() -> None:
    machine = generic_lathe()
    trace = execute(parse(read_source(program("G01 X0. F0.2\nG00 X30.\nZ3.\nG01 X-1.6 F0.1\n"))), machine)
    speeds = [
        spindle_speed(trace.states[row.state], x, machine)
        for row in trace.rows()
        for x in (row.x0, row.x1)
        if trace.states[row.state].sense == "forward"
    ]
    assert speeds and max(s for s in speeds if s is not None) == 1800


def test_repeating_a_modal_rapid_or_leaving_it_out_makes_no_difference() -> None:
    once, again = program("G00 X50.\nZ1.\nG01 Z-20. F0.2\nX64.\n"), program("G00 X50.\nG00 Z1.\nG01 Z-20. F0.2\nX64.\n")
    assert review(once, again).verdict == "same behaviour"
    assert review(again, once).verdict == "same behaviour"


def test_coolant_is_on_before_material_is_removed() -> None:
    wet, late = program("G01 Z-20. F0.2\nX64.\n"), program("G01 Z-20. F0.2\nM08\nX64.\n", HEAD.replace(" M08", ""))
    assert "coolant-off-while-cutting" not in rules(examine(wet))
    assert "coolant-off-while-cutting" in rules(examine(late))


def test_a_part_of_an_air_cut_may_be_a_rapid_and_every_cut_ends_where_it_did() -> None:
    fed = program("G01 X40. F0.2\nZ-20.\nX64.\n")
    quick = program("G00 X61.\nG01 X40. F0.2\nZ-20.\nX64.\n")
    report = review(fed, quick)
    assert report.verdict == "changed behaviour"
    assert rules(report, "change") == {"feed-became-rapid"}
    ends = [
        [(row.x1, row.z1) for row in execute(parse(read_source(p)), generic_lathe()).rows() if row.kind is Kind.FEED]
        for p in (fed, quick)
    ]
    assert ends[0] == ends[1]


def test_the_peck_grooving_cycle_exists_in_a_two_block_and_a_one_block_form() -> None:
    two = program("G00 Z-20.\nG75 R0.5\nG75 X50. Z-22. P1500 Q1000 F0.08\n")
    one = program("G00 Z-20.\nG75 X50. Z-22. I1.5 K1. F0.08\n")
    assert review(two, one).verdict == "same behaviour"


@pytest.mark.parametrize(("p", "fires"), [("P1500", False), ("P1.5", True)])
def test_p_and_q_of_the_peck_cycle_are_whole_numbers_in_the_smallest_unit(p: str, fires: bool) -> None:
    report = examine(program(f"G00 Z-20.\nG75 R0.5\nG75 X50. Z-22. {p} Q1000 F0.08\n"))
    assert ("integer-word-with-point" in rules(report)) == fires


def test_a_groove_wider_than_its_blade_needs_a_travel_of_the_difference() -> None:
    """0.156 in wide with a 0.100 in blade: 0.056 in of Z, in one step."""
    head = HEAD.replace("G21", "G20").replace("X64. Z2.", "X2.5 Z.1").replace("S1800", "S1200").replace("S220", "S400")
    trace = execute(
        parse(read_source(program("G00 X2.2 Z-1.\nG75 R.02\nG75 X1.8 Z-1.056 P500 Q560 F.005\n", head))),
        generic_lathe(),
    )
    bottoms = {row.z1 for row in trace.rows() if row.kind is Kind.FEED}
    assert max(bottoms) - min(bottoms) == 56 * 2_540_000
    assert Fraction(max(bottoms) - min(bottoms), 2_540_000_000) + Fraction(1, 10) == Fraction(156, 1000)


def test_feeding_a_blade_in_at_five_thousandths_a_turn_takes_two_hundred_turns_an_inch() -> None:
    head = HEAD.replace("G21", "G20").replace("X64. Z2.", "X2.2 Z-1.").replace("G96 S220", "G97 S600")
    machine = generic_lathe()
    trace = execute(parse(read_source(program("G01 X1.8 F.005\n", head))), machine)
    plunge = next(k for k, row in enumerate(trace.rows()) if row.kind is Kind.FEED)
    assert times(trace, at_once(machine)).moves[plunge] == pytest.approx(0.2 * 200 / 600 * 60)


@pytest.mark.parametrize(("word", "fires"), [("T0101", False), ("T0102", True)])
def test_tool_and_offset_agree_by_habit(word: str, fires: bool) -> None:
    report = examine(program("G01 Z-20. F0.2\nX64.\n", HEAD.replace("T0101", word)))
    assert ("tool-and-offset-disagree" in rules(report)) == fires


def test_a_right_hand_tool_mounted_upside_down_needs_the_spindle_the_other_way() -> None:
    body = "G01 Z-20. F0.2\nX64.\n"
    for mounted, code in (("upside-down", "M03"), ("upright", "M04")):
        setup = _sheet(mounted)
        assert "spindle-turns-against-tool" not in rules(examine(program(body, HEAD.replace("M03", code)), setup=setup))
        other = {"M03": "M04", "M04": "M03"}[code]
        assert "spindle-turns-against-tool" in rules(examine(program(body, HEAD.replace("M03", other)), setup=setup))


def _sheet(mounted: str) -> Setup:
    return sheet(Tool(1, "turning", hand="right", mounted=mounted))


@pytest.mark.parametrize("part", ["drive-shaft", "flanged-sleeve", "clamp-stud"])
def test_good_sequences_start_safe_and_end_clear_cool_off_and_in_fixed_speed(part: str) -> None:
    """Every sequence of the demo shop's bases: a safety block first; clear, coolant off, spindle off, back in fixed speed, then the stop."""
    machine = load_machine(
        ROOT / "fixtures/shop/machines" / ("dock-lathe.toml" if part == "clamp-stud" else "north-lathe.toml")
    )
    setup = load_setup(ROOT / f"fixtures/shop/setups/{part}.toml", machine)
    base = (ROOT / f"fixtures/shop/programs/{part}/base.nc").read_bytes()
    found = rules(examine(base, machine=machine, setup=setup))
    assert not found & {
        "sequence-end-unsafe",
        "sequence-start-incomplete",
        "not-turning-while-cutting",
        "spindle-turns-against-tool",
    }
