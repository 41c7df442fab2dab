"""Habits of hand-written turning programs, each shown by a program of our own: what the machine does, or what is told by name.

Number reading, tool words and forms of calls: common practice, no source. Where other tests hold a habit more closely they are named.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.benchmarks.corpus_report import rows_of, table
from tests.control.running import INCH, MM, codes, ends, events, last, machine, run, state_of
from verifier.control import Trace
from verifier.machines import MCode, generic_lathe

START = "G21 G99 G97 S500 M03\nG00 X50. Z5.\n"
SHARED = Path(__file__).resolve().parents[3] / "shared" / "corpus" / "turning"


def told(trace: Trace) -> list[str]:
    return [entry.what for entry in trace.unchecked if not entry.what.startswith("choice")]


def test_implied_and_real_decimals_stand_in_one_block() -> None:
    """On an inch lathe an allowance U320 is 320 ten-thousandths of an inch of diameter; the feed beside it has a point."""
    trace = run(
        "G20 G99 G97 S500 M03\nG00 X2.5 Z.1\nG71U500R250\nG71P10Q20U320W50F.012\nN10G00X1.5\nG01Z-1.\nN20X2.4\nM30\n"
    )
    amounts = trace.cycles[0].amounts
    assert codes(trace) == []
    assert {name: float(amount.value / 25 * 1) for name, amount in amounts.items() if "allowance" in name}
    levels = sorted({row.x1 for row in trace.rows() if row.kind.cuts})
    assert levels[0] == (15000 + 320) * INCH // 20000
    assert float(state_of(trace).feed or 0) == pytest.approx(0.012 * 25.4) or state_of(trace).feed is None


@pytest.mark.parametrize("call", ["G71 P10 Q20 U.4 W.1 D2. F.2", "G71 U2. R.5\nG71 P10 Q20 U.4 W.1 F.2"])
def test_roughing_in_one_block_or_in_two_is_one_path(call: str) -> None:
    contour = "N10 G00 X20.\nG01 Z-20.\nN20 X48.\nM30\n"
    one = run(START + call + "\n" + contour)
    assert codes(one) == []
    assert ends(one) == ends(run(START + "G71 P10 Q20 U.4 W.1 D2. F.2\n" + contour))


def test_threading_in_one_block_or_in_two_can_be_told_apart_by_its_depths() -> None:
    head = "G21 G99 G97 S500 M03\nG00 X24. Z4.\n"
    two = run(head + "G76 P020060 Q50 R.05\nG76 X18.16 Z-20. P920 Q300 F1.5\nM30\n")
    other = run(head + "G76 P020060 Q50 R.05\nG76 X18.16 Z-20. P920 Q350 F1.5\nM30\n")
    assert codes(two) == codes(other) == []
    assert ends(two) != ends(other)


def test_a_negative_allowance_is_a_bore_and_a_negative_x_is_a_place_beyond_the_centre_line() -> None:
    bore = run(START + "G00 X18. Z2.\nG71 U1. R.5\nG71 P10 Q20 U-.4 W.1 F.2\nN10 G00 X30.\nG01 Z-10.\nN20 X18.\nM30\n")
    assert codes(bore) == []
    assert max(x for kind, x, _ in ends(bore)[2:] if kind == "feed") == pytest.approx(29.6)
    beyond = run(START + "G00 X-12. Z2.\nG01 X-12.5 F.1\nM30\n")
    assert [x for _, x, _ in ends(beyond)] == [50, -12, -12.5]


def test_labels_repeat_and_run_backwards_and_are_taken_forward_from_the_cycle() -> None:
    text = (
        START + "N20 G01 X49. F.2\nN10 G00 X50. Z2.\nG71 U2. R.5\nG71 P10 Q5 U.4 W.1 F.2\n"
        "N10 G00 X20.\nG01 Z-20.\nN5 X48.\nN10 G00 X60.\nM30\n"
    )
    trace = run(text)
    assert codes(trace) == ["contour-label-repeated"]
    assert min(x for _, x, _ in ends(trace)) == pytest.approx(20.4)
    missing = run(START + "G71 U2. R.5\nG71 P10 Q99 U.4 W.1 F.2\nN10 G00 X20.\nN20 X48.\nM30\n")
    assert codes(missing) == ["contour-label-missing"]


def test_a_clamp_and_a_surface_speed_share_their_letter_and_the_block_moves_at_the_rapid_in_force() -> None:
    """P11 names the main spindle in this profile; the block has no motion code and inherits the rapid of the way home."""
    lathe = machine(spindle_selectors={11: "main"})
    trace = run("G20 G99\nG0G28W0.0\nG50S5000\nG96S460M03P11X.9Z.05\nG01Z-.5F.004\nM30\n", lathe)
    assert [kind for kind, _, _ in ends(trace)][-2:] == ["rapid", "feed"]
    assert (state_of(trace).clamp, state_of(trace).speed_mode) == (5000, "surface")
    assert told(trace) == []


def test_codes_of_the_other_spindle_are_what_the_profile_says_or_are_told() -> None:
    assert told(run(START + "M203\nM30\n")) == ["M203"]
    known = {
        **generic_lathe().m_codes,
        203: MCode(203, "second spindle", "critical", "with-motion", (("second-spindle", "forward"),)),
    }
    trace = run(START + "M203\nG01 X40. F.2\nM30\n", machine(m_codes=known))
    assert dict(state_of(trace).auxiliaries) == {"second-spindle": "forward"}


def test_feed_changes_its_meaning_inside_a_program() -> None:
    trace = run(START + "G98 G01 Z0. F80.\nG99 X40. F.1\nG98 Z-5. F60.\nM30\n")
    modes = [(trace.states[r.state].feed_mode, float(trace.states[r.state].feed)) for r in trace.rows()[1:]]  # type: ignore[arg-type]
    assert modes == [("per-minute", 80.0), ("per-revolution", 0.1), ("per-minute", 60.0)]


@pytest.mark.parametrize(
    ("words", "x", "z"),
    [
        ("G28", "X at reference", "Z at reference"),
        ("G28U0.W0.", "X at reference", "Z at reference"),
        ("G0G28U0.0", "X at reference", ""),
        ("G28 U0\nW0", "X at reference", ""),
        ("G28U0.\nG28W0.", "X at reference", "Z at reference"),
        ("G30U0W0", "X at reference P2", "Z at reference P2"),
        ("G53 G0 Z0.", "", "Z in machine coordinates"),
        ("G53X0Z0", "X in machine coordinates", "Z in machine coordinates"),
    ],
)
def test_the_way_home_has_many_forms(words: str, x: str, z: str) -> None:
    trace = run(START + f"{words}\nM30\n")
    row = trace.rows()[-1]
    assert (trace.bases[row.bx1], trace.bases[row.bz1]) == (x, z)
    assert codes(trace) == []


def test_home_with_a_word_of_an_axis_that_is_not_simulated_names_it() -> None:
    trace = run(START + "G0G28U0.0V0.0\nM30\n")
    assert told(trace) == ["V0."]


@pytest.mark.parametrize(("skips", "x"), [((), 30), ((2,), 40), ((1,), 30)])
def test_a_numbered_skip_switches_a_whole_section(skips: tuple[int, ...], x: float) -> None:
    text = "O1\n" + START + "G01 X40. F.2\n/2M98P8001\n/M00\n/G55G52X0.Z-4.25\nM30\nO8001\nX30.\nM99\n"
    trace = run(text, skips_on=skips)
    assert last(trace)[0] == x
    assert bool(events(trace, "stop")) is (1 not in skips)
    assert trace.end.frame == (("", 0, "", 0) if 1 in skips else ("", 0, "", -425 * MM // 100))


@pytest.mark.parametrize("call", ["M98P3021", "M98P0023021", "M98 P3021 L2", "M98Q50"])
def test_calls_are_written_in_many_ways(call: str) -> None:
    text = f"O1\n{START}{call}\nM30\nN50 G01 X40. F.2\nM99\nO3021\nG01 X40. F.2\nM99\n"
    trace = run(text)
    assert last(trace)[0] == 40
    assert codes(trace) == []


@pytest.mark.parametrize(
    "typed",
    [
        "G0X-4.5.Z0.",
        "G1Z-0.5.F0.03",
        "GO1 Z-60.",
        "G00 Z,15",
        "N170 X0 Y",
        "[BILLET X53 Z49.8",
        "<<<<<<< HEAD",
        "roughing pass",
    ],
)
def test_a_typing_error_is_named_and_what_rests_on_it_is_unknown(typed: str) -> None:
    trace = run(START + f"{typed}\nG01 U-1. W-1. F.2\nM30\n")
    assert events(trace, "unreadable")
    assert told(trace)
    assert trace.bases[trace.rows()[-1].bx1]


@pytest.mark.parametrize("block", ["G01Z-.5F.00F.0086", "Z-1.375G01Z-1.365F.1", "G00 Z52. Z3."])
def test_a_word_twice_in_a_block_is_a_fault_and_the_last_counts(block: str) -> None:
    trace = run(START + block + "\nM30\n")
    assert codes(trace) == ["word-twice"]
    assert last(trace)[1] in (-0.5, -1.365, 3)


def test_a_program_without_end_or_units_is_told_and_read_in_the_units_of_the_profile() -> None:
    trace = run("G00 X50. Z5.\nG01 X40. F.2\n")
    assert codes(trace) == ["program-end-missing"]
    assert last(trace) == (40, 5)


@pytest.mark.parametrize("head", ["", "O01010\n", "O0100(MAIN)\nO0100(MAIN)\n", "N1 O2 (BUSH)\n"])
def test_a_program_has_no_number_or_an_odd_one_and_is_executed_all_the_same(head: str) -> None:
    assert last(run(head + START + "G01 X40. F.2\nM30\n")) == (40, 5)


def test_blanks_are_stripped_by_the_machine_and_change_nothing() -> None:
    spaced = "G71 U2. R.5\nG71 P10 Q20 U.4 W.1 F.2\nN10 G00 X20.\nG01 Z-20.\nN20 X48.\nG70 P10 Q20 F.05 S500  \nM30\n"
    assert ends(run(START + spaced)) == ends(run(START + spaced.replace(" ", "")))


# -- the collection -----------------------------------------------------------------------------------------------------------


@pytest.mark.skipif(not SHARED.is_dir(), reason=f"the collection of real programs is not at {SHARED}")
def test_real_programs_are_executed_to_their_end_with_nothing_left_unexecuted() -> None:
    rows, faults, other = rows_of(SHARED, generic_lathe())
    assert len(rows) >= 60
    assert all(row.ended for row in rows)
    assert sum(row.whole for row in rows) >= 0.95 * len(rows), table(rows, faults, other)


def test_the_report_counts_and_quotes_no_program(tmp_path: Path) -> None:
    (tmp_path / "one.nc").write_text("O1 (SECRET)\n" + START + "G01 X40. Y3. F.2\nM77\nG05 P1\nM30\n")
    (tmp_path / "two.nc").write_bytes(b"\xff\xfe\x00")
    rows, faults, other = rows_of(tmp_path, generic_lathe())
    text = table(rows, faults, other)
    one, two = rows
    assert (one.moves, one.ended, one.whole, one.unchecked["live"], one.unchecked["machine"]) == (2, True, False, 1, 1)
    assert (two.ended, two.unchecked["refused"]) == (False, 1)
    assert "SECRET" not in text
    assert "X40" not in text
