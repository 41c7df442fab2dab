"""What a block does: modal groups, the order inside it, words nobody knows."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.control.running import codes, doings, ends, events, last, machine, program, run, state_of
from verifier.control import Kind, Trace, canonical_word, meant
from verifier.control.codes import DRILLING, IN_WORDS, MODAL
from verifier.machines import Machine
from verifier.syntax import Word

START = "G21 G99 G97 S500 M03\nG00 X50. Z5.\n"

GROUPS = {
    "motion": ("G00", "G01", "G02", "G03", "G32", "G34", "G90", "G92", "G94"),
    "units": ("G20", "G21"),
    "nose compensation": ("G40", "G41", "G42"),
    "work offset": ("G54", "G55", "G56", "G57", "G58", "G59"),
    "speed mode": ("G96", "G97"),
    "feed mode": ("G98", "G99"),
    "plane": ("G17", "G18", "G19"),
    "path": ("G61", "G64"),
}
"""NISTIR 6556 Table 4, the groups where lathes agree (units, compensation, coordinate systems, plane, path control, motion); feed and speed mode
and the codes of set A: common practice, no source."""


@pytest.mark.parametrize(
    ("one", "other"), [pair for members in GROUPS.values() for pair in combinations(members, 2)], ids="-".join
)
def test_two_codes_of_one_group_in_a_block_are_a_fault(one: str, other: str) -> None:
    trace = run(START + f"{one} {other}\nM30\n")
    assert "two-codes-of-one-group" in codes(trace)


def test_codes_of_different_groups_in_a_block_are_no_fault() -> None:
    trace = run("G21 G18 G40 G54 G64 G97 G99 G00 X50. Z5.\nM30\n")
    assert codes(trace) == []


def test_the_table_of_groups_covers_every_modal_code() -> None:
    assert {code for members in GROUPS.values() for code in members} == {code for code in MODAL if code.startswith("G")}
    assert {name for name, _ in MODAL.values()} < set(IN_WORDS)


@pytest.mark.parametrize(
    "words", ["M03 M04", "M03 M05", "M08 M09", "M00 M30", "M30 M98 P1000", "M00 M01", "M98 P1000 M99"]
)
def test_two_m_codes_that_contradict_each_other_are_a_fault(words: str) -> None:
    """NISTIR 6556 Table 4, groups M4 (stop), M7 (spindle) and M8 (coolant)."""
    trace = run(START + f"{words}\nM30\nO1000\nM99\n")
    assert "two-codes-of-one-group" in codes(trace)


@pytest.mark.parametrize("words", ["M03 M08", "M07 M08", "M08 M03 M00", "M05 M09 M01", "M09 M05 M30"])
def test_m_codes_of_different_groups_are_no_fault(words: str) -> None:
    """M07 and M08 may both be on: NISTIR 6556 Table 4."""
    assert codes(run(START + f"{words}\nM30\n")) == []


def test_a_flow_code_that_is_passed_over_is_told() -> None:
    trace = run(START + "M98 P1000 M30\nM30\nO1000\nM99\n")
    assert events(trace, "unexecuted") == ["M30"]


@pytest.mark.parametrize("choice", ["last-counts", "alarm"])
def test_of_a_word_given_twice_the_last_counts_or_the_control_stops(choice: str) -> None:
    trace = run(START + "G01 X40. F.2 X30.\nM30\n", machine({"word-twice": choice}))
    assert "word-twice" in codes(trace)
    assert last(trace) == (30.0, 5.0)
    assert bool(events(trace, "unexecuted")) is (choice == "alarm")


WORDS = ("G01", "X40.", "Z-3.", "F.2", "S800", "M08", "G40", "T0202", "N7", "G98")


@given(st.permutations(WORDS))
@settings(max_examples=60, deadline=None)
def test_the_order_of_words_in_a_block_carries_no_meaning(words: list[str]) -> None:
    """NISTIR 6556 section 3.3.6; for lathes the words where the order is free (no skip mark, no repeated word, no arguments of a call)."""
    usual = doings(run(START + " ".join(WORDS) + "\nM05\nM30\n"))
    assert doings(run(START + " ".join(words) + "\nM05\nM30\n")) == usual


CYCLE = ("G71", "P10", "Q20", "U.4", "W.1", "F.25", "S900")


@given(st.permutations(CYCLE))
@settings(max_examples=40, deadline=None)
def test_the_order_of_words_in_a_cycle_block_carries_no_meaning(words: list[str]) -> None:
    text = START + "G71 U2. R1.\n{}\nN10 G00 X20.\nG01 Z-20. F.1\nN20 X50.\nM30\n"
    usual = run(text.format(" ".join(CYCLE)))
    assert len(usual.moves) > 10
    assert doings(run(text.format(" ".join(words)))) == doings(usual)


def sense_in_move(words: str, choice: str = "after") -> tuple[str, str]:
    trace = run(
        "G21 G99 G97 S500 M03 M08\nG00 X50. Z5.\n" + f"G01 Z-5. F.2 {words}\nM30\n", machine({"m-after-motion": choice})
    )
    state = state_of(trace)
    return state.sense, state.coolant


def test_spindle_and_coolant_off_act_after_the_motion_of_their_block() -> None:
    """JB 3208-83 (the national adoption of ISO 1056): M05 and M09 start after the motion, M03, M04, M07, M08 with it."""
    assert sense_in_move("M05") == ("forward", "on")
    assert sense_in_move("M09") == ("forward", "on")
    assert sense_in_move("M04") == ("reverse", "on")
    assert sense_in_move("M07") == ("forward", "second-on")


def test_where_the_profile_says_so_they_act_before_it() -> None:
    """NISTIR 6556 section 3.8 executes them before the motion."""
    assert sense_in_move("M05", "before") == ("stopped", "on")
    assert sense_in_move("M09", "before") == ("forward", "off")


def test_after_the_block_both_orders_leave_the_same() -> None:
    for choice in ("after", "before"):
        trace = run(START + "G01 Z-5. F.2 M05\nG00 Z5.\nM30\n", machine({"m-after-motion": choice}))
        assert state_of(trace).sense == "stopped"


@pytest.mark.parametrize("words", ["Y5.", "B90.", "E1.", "V2.", "D4", "L2", "P3", "Q5", ",C2.", ",R1.", "J1."])
def test_a_word_that_is_not_executed_is_told_on_a_move_and_alone(words: str) -> None:
    on_move = run(START + f"G01 X40. Z0. F.2 {words}\nM30\n")
    remark = on_move.remarks[on_move.rows()[-1].remark]
    told = [entry.what for entry in on_move.unchecked]
    assert remark
    assert remark in told
    alone = run(START + f"{words}\nM30\n")
    assert events(alone, "unexecuted") == [remark]


@pytest.mark.parametrize("code", ["G05", "G68", "G50.1", "G999", "G31"])
def test_an_unknown_g_code_is_told_with_its_block_and_the_place_is_lost(code: str) -> None:
    trace = run(START + f"{code} X40. Z0.\nG01 W-1. F.1\nM30\n")
    assert "unknown-code" in codes(trace)
    assert any(code in value and "X40" in value for value in events(trace, "unexecuted"))
    assert trace.bases[trace.rows()[-1].bx0]


def test_a_code_switched_off_in_the_profile_is_not_executed() -> None:
    trace = run(START + "G96 S200\nM30\n", machine(g_codes_off=("G96",)))
    assert codes(trace) == ["unknown-code"]
    assert trace.end.speed_mode == "rpm"


@pytest.mark.parametrize("word", ["M77", "M123", "M3.5", "M06"])
def test_an_m_code_without_a_meaning_here_is_an_event(word: str) -> None:
    trace = run(START + f"{word}\nM30\n")
    assert len(events(trace, "machine-code")) == 1


def test_axis_words_without_any_motion_code_are_a_fault() -> None:
    trace = run("G21\nX50. Z5.\nM30\n")
    assert codes(trace) == ["motion-not-established"]
    assert events(trace, "unexecuted")
    assert len(trace.moves) == 0


def test_without_a_motion_code_the_place_after_the_block_is_still_where_its_words_lead() -> None:
    trace = run("G21 G97 S500 M03 F.2\nX50. Z5.\nW-2.\nG99 G01 W-1.\nM30\n")
    (row,) = trace.rows()
    assert (row.x0, row.z0, row.z1) == (2500000000, 300000000, 200000000)


@pytest.mark.parametrize("words", ["X40. U-5.", "Z0. W1.", "U2. X30. F.2"])
def test_one_axis_named_in_both_ways_is_a_fault(words: str) -> None:
    assert codes(run(START + f"G01 {words}\nM30\n")) == ["axis-named-twice"]


@pytest.mark.parametrize("words", ["G01 X40. G04 P500", "G04 X2. G00", "G50 G01 X100."])
def test_two_codes_that_want_the_same_axis_words_are_a_fault_and_lose_the_place(words: str) -> None:
    """An error in NISTIR 6556 section 3.4: a code of the motion group and one that acts once, both using axis words."""
    trace = run(START + f"{words}\nG01 U-1. F.2\nM30\n")
    assert codes(trace)[0] == "axis-words-wanted-twice"
    assert events(trace, "unexecuted")
    if "G50" not in words:
        assert trace.bases[trace.rows()[-1].bx0]


@pytest.mark.parametrize("words", ["G00 G28 U0", "G00 G30 U0 W0", "G00 G53 X-10.", "G01 G50 S2000", "G00 G04 P500"])
def test_habits_that_agree_are_no_fault(words: str) -> None:
    assert codes(run(START + f"{words}\nM30\n")) == []


def test_lower_case_spacing_and_leading_zeros_do_not_matter() -> None:
    plain = run("G21 G99 G97 S500 M03\nG00 X50. Z5.\nG01 Z-5. F0.2\nM30\n")
    spaced = run("g21g99 g97s0500m3\ng0x50.z5.\n\tg1 z -5.000 f.2\nm30\n")
    assert doings(plain) == doings(spaced)


@given(st.lists(st.booleans(), min_size=6, max_size=6))
@settings(max_examples=40, deadline=None)
def test_repeating_a_modal_code_or_leaving_it_out_makes_no_difference(repeat: list[bool]) -> None:
    moves = ["X40. Z2.", "Z-5.", "X45.", "Z-10.", "X60.", "Z2."]
    feeds = [False, True, True, True, True, False]
    lines, before = [], None
    for again, move, feed in zip(repeat, moves, feeds, strict=True):
        code = "G01" if feed else "G00"
        lines.append(f"{code if again or code != before else ''} {move}")
        before = code
    full = "\n".join(f"{'G01' if feed else 'G00'} {move}" for move, feed in zip(moves, feeds, strict=True))
    head = START + "F.2\n"
    assert doings(run(head + "\n".join(lines) + "\nM30\n")) == doings(run(head + full + "\nM30\n"))


LETTERS = "ABCDEFHIJKLPQRSUVWXYZ"
TOKENS = st.one_of(
    st.sampled_from(
        [
            "G00",
            "G01",
            "G02",
            "G03",
            "G04",
            "G28",
            "G30",
            "G32",
            "G34",
            "G40",
            "G42",
            "G50",
            "G53",
            "G54",
            "G55",
            "G61",
            "G64",
        ]
    ),
    st.sampled_from(
        ["G17", "G18", "G20", "G21", "G70", "G71", "G74", "G75", "G76", "G83", "G80", "G90", "G92", "G94", "G96", "G97"]
    ),
    st.sampled_from(["G98", "G99", "G05", "G52", "G54.1", "G65", "G91", "G112"]),
    st.integers(0, 120).map(lambda n: f"M{n}"),
    st.integers(0, 1313).map(lambda n: f"T{n:04d}"),
    st.tuples(st.sampled_from(LETTERS), st.integers(-60, 60), st.booleans()).map(
        lambda w: f"{w[0]}{w[1]}{'.' if w[2] else ''}"
    ),
)
BLOCKS = st.lists(TOKENS, min_size=1, max_size=7).map(" ".join)


def told_of(trace: Trace) -> str:
    told = [event.value for event in trace.events]
    told += list(trace.remarks)
    told += [f"{fault.text} {fault.message}" for fault in trace.faults]
    told += [f"{entry.what} {entry.reason}" for entry in trace.unchecked]
    return " | ".join(told)


@given(st.lists(BLOCKS, min_size=1, max_size=6), st.sampled_from("AABC"))
@settings(max_examples=300, deadline=None)
def test_no_word_of_an_executed_block_is_silent(blocks: list[str], code_set: str) -> None:
    """A word is told by name (event, remark, fault, unchecked), or taking it away changes something, or it only says again what holds anyway."""
    text = START + "\n".join(blocks) + "\nG01 X11. Z-11. F.11\nM30\n"
    on = machine(code_set=code_set)
    trace = run(text, on)
    told = told_of(trace)
    for block in program(text).blocks[2:-2]:
        if not trace.executed[block.index]:
            continue
        written = [canonical_word(word) for word in block.words]
        for word in block.words:
            twice = written.count(canonical_word(word)) > 1
            if canonical_word(word) in told or word.text in told or may_repeat(word, on) or twice:
                continue
            if is_first_line({other.letter for other in block.words}, written):
                continue
            lines = text.split("\n")
            lines[block.line - 1] = " ".join(other.text for other in block.words if other is not word)
            without = run("\n".join(lines), on)
            same = (doings(without), without.unchecked, without.faults) == (
                doings(trace),
                trace.unchecked,
                trace.faults,
            )
            assert not same, (word.text, text)


def is_first_line(letters: set[str], written: list[str]) -> bool:
    """Whether a block only leaves amounts for a cycle block that may never come, as the first lines of the two-block forms do."""
    makes = {
        "G71": "PQ",
        "G72": "PQ",
        "G73": "PQ",
        "G74": "XUZWPQIK",
        "G75": "XUZWPQIK",
        "G76": "XUZW",
        "G83": "XUZWCHR",
    }
    return any(code in written and not letters & set(of) for code, of in makes.items())


def may_repeat(word: Word, on: Machine) -> bool:
    """Whether a word may say again what is in force, or be replaced before anything rests on it.

    And a zero, or one run of a cycle: as good as no word.
    """
    if canonical_word(word) in ("K1", "L1"):
        return True
    if word.letter == "G":
        return {canonical_word(word), meant(word, on)} & {*MODAL, *DRILLING, "G80", "G54.1", "G50", "G112"} != set()
    return word.letter in "FSTXUZWMC" or (word.number is not None and word.number.mantissa == 0)


def test_every_move_knows_its_kind() -> None:
    trace = run(START + "G01 X40. F.2\nG02 X44. Z3. R2.\nG03 X48. Z1. R2.\nG32 Z-10. F1.5\nM30\n")
    assert [row.kind for row in trace.rows()] == [Kind.RAPID, Kind.FEED, Kind.ARC_CW, Kind.ARC_CCW, Kind.THREAD]
    assert ends(trace)[-1] == ("thread", 48.0, -10.0)


@pytest.mark.parametrize("block", ["G70 G83 Z-5.", "G83 G70 Z-5."])
def test_of_two_cycles_in_a_block_the_one_that_does_not_count_is_told(block: str) -> None:
    assert block.split()[0] in events(run(START + block + "\nM30\n"), "unexecuted")
