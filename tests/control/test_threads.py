"""Threads: chains, varying leads, start angles, and the words of the cycles that cut them."""

from __future__ import annotations

from fractions import Fraction

import pytest

from tests.control.running import INCH, MM, codes, doings, ends, events, machine, run, state_of
from verifier.control import Kind, Trace, cycles
from verifier.control.strokes import CycleFault, Point, Stroke
from verifier.geometry import times

START = "G21 G99 G97 S500 M03\nG00 X24. Z5.\n"


def done(body: str, choices: dict[str, str] | None = None) -> Trace:
    return run(f"{START}{body}\nM30\n", machine(choices))


def threads(trace: Trace) -> list[int]:
    return [k for k, row in enumerate(trace.rows()) if row.kind is Kind.THREAD]


def angles(trace: Trace) -> list[Fraction]:
    return [state_of(trace, k).start_angle for k in threads(trace)]


def test_threading_blocks_that_follow_at_once_are_one_thread() -> None:
    """The start angle of the first block holds for all, and single block stops only behind the last; common practice, no source."""
    trace = done("G32 Z-10. F2. Q90000\nU4. Z-20.\nF3. Z-30.\nG00 X40.\nG32 Z-40.")
    assert angles(trace) == [90, 90, 90, 0]
    assert [trace.rows()[k].ends for k in threads(trace)] == [False, False, True, True]
    assert [state_of(trace, k).feed for k in threads(trace)] == [2, 2, 3, 3]


def test_a_stop_or_a_rapid_between_breaks_a_chain() -> None:
    for between in ("G00 U0.5", "G04 P100", "M00"):
        trace = done(f"G32 Z-10. F2. Q90000\n{between}\nG32 Z-20.")
        assert angles(trace) == [90, 0]


def test_a_start_angle_inside_a_chain_is_told() -> None:
    trace = done("G32 Z-10. F2. Q90000\nZ-20. Q45000")
    assert angles(trace) == [90, 90]
    assert any(entry.what == "Q45000" for entry in trace.unchecked)


@pytest.mark.parametrize(
    ("words", "choice", "angle"),
    [
        ("Q180000", "thousandths", 180),
        ("Q180", "degrees", 180),
        ("Q22.5", "degrees", Fraction("22.5")),
        ("", "degrees", 0),
    ],
)
@pytest.mark.parametrize("code", ["G32 X20. Z-20.", "G92 X20. Z-20."])
def test_the_start_angle_is_read_as_the_profile_says(code: str, words: str, choice: str, angle: Fraction) -> None:
    assert set(angles(done(f"{code} F2. {words}", {"thread-start-angle": choice}))) == {angle}


def test_the_one_block_form_takes_a_start_angle_and_the_two_block_form_does_not() -> None:
    one = done("G76 X18.16 Z-20. K.92 D.3 A60 F3. Q180000")
    assert set(angles(one)) == {180}
    assert one.cycles[0].amounts["start angle"].value == 180
    two = done("G76 P010060 Q50 R.05\nG76 X18.16 Z-20. P920 Q300 F3.")
    assert set(angles(two)) == {0}


def test_a_start_angle_is_for_its_own_block_only_and_is_not_left() -> None:
    trace = done("G92 X20. Z-20. F2. Q90000\nX19.\nG00 X40.\nG01 Z-1. F.1")
    assert set(angles(trace)) == {0, 90}
    assert state_of(trace).start_angle is None
    assert trace.end.start_angle is None


@pytest.mark.parametrize(("words", "code"), [("Q370000", "start-angle-wrong"), ("Q90.", "integer-word-with-point")])
def test_a_start_angle_that_cannot_be(words: str, code: str) -> None:
    assert codes(done(f"G32 Z-20. F2. {words}")) == [code]


@pytest.mark.parametrize("words", ["G32 Z-20. {}1.5", "G92 X20. Z-20. {}1.5", "G76 X18. Z-20. I0 K.92 D.3 A60 {}1.5"])
def test_e_is_the_lead_of_a_thread_and_is_told(words: str) -> None:
    start = "G21 G99 G97 S500 M03\nG00 X24. Z4.\n"
    by_e, by_f = (run(start + words.format(letter) + "\nM30\n") for letter in "EF")
    threads = [[t.states[row.state].feed for row in t.rows() if row.kind is Kind.THREAD] for t in (by_e, by_f)]
    assert threads[0] == threads[1]
    assert set(threads[0]) == {Fraction(3, 2)}
    assert any("lead of the thread" in entry.reason for entry in by_e.unchecked)
    assert [entry.what for entry in run(start + "G01 Z-20. E1.5 F.2\nM30\n").unchecked][-1:] == ["E1.5"]


def test_a_lead_that_grows_is_in_force_and_takes_fewer_turns() -> None:
    """From lead 2 growing by 0.5 each turn over 25 mm: 2 t + 0.25 t^2 = 25 gives t = (sqrt(4 + 25) - 2) / 0.5 turns."""
    trace = done("G34 Z-20. F2. K.5")
    state = state_of(trace)
    assert (state.feed, state.lead_change) == (2, Fraction("0.5"))
    turns = (29**0.5 - 2) / 0.5
    assert times(trace, machine()).moves[-1] == pytest.approx(turns * 60 / 500)
    plain = done("G32 Z-20. F2.")
    assert times(plain, machine()).moves[-1] == pytest.approx(12.5 * 60 / 500)


def test_a_lead_change_is_in_the_units_of_the_program() -> None:
    trace = run("G20 G99 G97 S500 M03\nG00 X1. Z.2\nG34 Z-1. F.1 K-.01\nM30\n")
    assert state_of(trace).lead_change == Fraction(-254, 1000)


@pytest.mark.parametrize(("words", "code"), [("", "lead-change-missing"), ("K-.1", "lead-runs-out")])
def test_a_varying_lead_that_cannot_be(words: str, code: str) -> None:
    trace = done(f"G34 Z-20. F2. {words}")
    assert codes(trace) == [code]
    assert code != "lead-change-missing" or events(trace, "unexecuted")


def test_a_lead_change_is_not_kept() -> None:
    trace = done("G34 Z-10. F2. K.5\nG32 Z-20.")
    assert [state_of(trace, k).lead_change for k in threads(trace)] == [Fraction("0.5"), None]


@pytest.mark.parametrize(
    ("word", "infeed", "equal"),
    [
        ("P1", "single-flank", False),
        ("P2", "both-flanks", False),
        ("P3", "single-flank", True),
        ("P4", "both-flanks", True),
    ],
)
def test_infeed_patterns_of_the_one_block_form(word: str, infeed: str, equal: bool) -> None:
    trace = done(f"G76 X18.16 Z-20. K.92 D.3 A60 F1.5 {word}")
    expected = cycles.multi_thread(
        Point(12 * MM, 5 * MM), Point(908 * MM // 100, -20 * MM), 0, 92 * MM // 100, 3 * MM // 10, 5 * MM // 100, 0, 1, 600,
        15 * MM // 10, 15 * MM // 10, infeed, equal,
    )  # fmt: skip
    assert not isinstance(expected, CycleFault)
    assert [(row.x1, row.z1) for row in trace.rows()[1:]] == [
        (s.end.x, s.end.z) for s in expected if isinstance(s, Stroke)
    ]
    assert any(entry.what == word for entry in trace.unchecked)


def test_an_infeed_pattern_that_nobody_knows_is_refused() -> None:
    assert codes(done("G76 X18.16 Z-20. K.92 D.3 A60 F1.5 P7")) == ["infeed-pattern-unknown"]


def test_a_thread_cycle_is_the_same_as_single_moves() -> None:
    cycle = done("G92 X19. Z-20. F2. Q90000\nX18.\nG00 X40.", {})
    out = "".join(
        f"G00 X{x}.\nG32 Z-18. F2. {word}\nX{x + 4}. Z-20.\nG00 X24.\nZ5.\n" for x, word in ((19, "Q90000"), (18, ""))
    )
    assert ends(cycle) == ends(done(out + "G00 X40."))
    assert doings(cycle)[0] == doings(done(out + "G00 X40."))[0]


def test_inches_times_25_4_are_the_same_thread() -> None:
    inch = run("G20 G99 G97 S500 M03\nG00 X1. Z.2\nG34 Z-1. F.1 K.01 Q90000\nG00 X2.\nM30\n")
    metric = run("G21 G99 G97 S500 M03\nG00 X25.4 Z5.08\nG34 Z-25.4 F2.54 K.254 Q90000\nG00 X50.8\nM30\n")
    assert doings(inch)[0] == doings(metric)[0]
    assert inch.rows()[-1].x1 == INCH
