"""Live tools: the C axis, polar and cylindrical interpolation, spindles chosen by P, waits of two channels. Common practice, no source."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from tests.control.running import codes, doings, ends, events, last, machine, run, state_of
from verifier.control import Trace, Unmatched, Wait, unmatched, waits
from verifier.machines import Axis, FrozenMap, Machine, MCode, Setup, generic_lathe, machine_text, parse_machine

START = "G21 G98 G97 S500 M03\nG00 X50. Z5.\n"


def with_c(**changes: object) -> Machine:
    axes = FrozenMap({**generic_lathe().axes, "C": Axis("C", False, None, None, Fraction(3600), Fraction(1000))})
    return machine(axes=axes, **changes)


def angle(trace: Trace, move: int = -1) -> str | None:
    return dict(state_of(trace, move).auxiliaries).get("c-axis angle")


def named(trace: Trace) -> list[str]:
    return [entry.what for entry in trace.unchecked if not entry.what.startswith("choice")]


def test_a_c_word_is_in_force_during_its_move_and_after_it() -> None:
    trace = run(START + "G00 X40. C90.\nG01 Z0. F100.\nC-45.5 X30.\nM30\n", with_c())
    assert [angle(trace, k) for k in range(4)] == [None, "90", "90", "-45.5"]
    assert last(trace) == (30, 0)
    assert named(trace) == []


def test_h_turns_on_from_where_c_stands() -> None:
    trace = run(START + "G00 C30.\nX40. H60.\nX30. H-120.\nM30\n", with_c())
    assert [angle(trace, k) for k in (1, 2)] == ["90", "-30"]
    absolute = run(START + "G00 C30.\nX40. C90.\nX30. C-30.\nM30\n", with_c())
    assert doings(trace) == doings(absolute)


def test_h_before_any_c_turns_from_an_angle_only_the_machine_knows() -> None:
    assert angle(run(START + "G00 X40. H60.\nM30\n", with_c())) == "C before the program 60"


@pytest.mark.parametrize(
    ("words", "left"),
    [("G28 H0", "C at reference 0"), ("G28 C0", "C at reference 0"), ("G30 P3 H0.", "C at reference P3 0")],
)
def test_the_c_axis_goes_home_alone(words: str, left: str) -> None:
    """Nothing else moves, whatever the control does at a G28 that names no axis at all."""
    trace = run(START + f"G00 X40. Z2. C30.\n{words}\nG01 W-1. F.1\nM30\n", with_c())
    assert angle(trace) == left
    row = trace.rows()[-1]
    assert (trace.bases[row.bx1], trace.bases[row.bz1]) == ("", "")
    assert last(trace) == (40, 1)


@pytest.mark.parametrize("words", ["G28 V0", "G28 Y0.", "G28 B0"])
def test_an_axis_that_is_not_simulated_goes_home_alone_and_is_named(words: str) -> None:
    trace = run(START + f"G00 X40. Z2.\n{words}\nG01 W-1. F.1\nM30\n")
    assert last(trace) == (40, 1)
    assert any("is not simulated here" in entry.reason for entry in trace.unchecked)


def test_an_angle_without_a_point_counts_thousandths() -> None:
    assert angle(run(START + "G00 X40. C90000\nM30\n", with_c())) == "90"
    whole = with_c(choices=FrozenMap({**generic_lathe().choices, "number-without-point": "whole-units"}))
    assert angle(run(START + "G00 X40. C90\nM30\n", whole)) == "90"


def test_a_block_that_only_turns_tells_how() -> None:
    """Nothing moves in X and Z, so the feed would be seen nowhere else."""
    trace = run(START + "G00 C90.\nG01 C180. F300.\nM30\n", with_c())
    assert events(trace, "auxiliary") == ["c-axis angle 90 at rapid", "c-axis angle 180 at 300 per-minute"]
    assert len(trace.moves) == 1


def test_turning_at_a_feed_per_revolution_is_told() -> None:
    trace = run(START + "G99 G01 C180. F.2\nM30\n", with_c())
    assert any("which spindle's revolutions" in entry.reason for entry in trace.unchecked)


def test_without_a_c_axis_in_the_profile_it_is_told_as_an_angle_at_rapid_and_as_a_chamfer_at_feed() -> None:
    trace = run(START + "G00 X40. C90.\nG01 Z-10. C1. F100.\nX60.\nM30\n")
    assert angle(trace) == "90"
    assert named(trace) == ["C90."]
    assert ends(trace)[2:] == [("feed", 40, -9), ("feed", 42, -10), ("feed", 60, -10)]


def test_another_angle_is_another_behaviour_of_every_move_after_it() -> None:
    one, other = (run(START + f"G00 X40. C{c}.\nG01 Z0. F100.\nM30\n", with_c()) for c in (90, 91))
    assert doings(one) != doings(other)
    assert angle(one, -1) != angle(other, -1)


@pytest.mark.parametrize(("on", "off"), [("G112", "G113"), ("G12.1", "G13.1")])
def test_polar_interpolation_is_a_state_and_its_curves_are_told_by_their_words(on: str, off: str) -> None:
    text = START + f"G00 X40. C0.\n{on}\nG01 X20. C5. F100.\nG03 X10. C8. R5.\n{off}\nG00 X60.\nM30\n"
    trace = run(text, with_c())
    assert codes(trace) == []
    states = [dict(trace.states[row.state].auxiliaries).get("interpolation") for row in trace.rows()]
    assert states == [None, None, "polar", "polar", "off"]
    assert [end[0] for end in ends(trace)] == ["rapid", "rapid", "feed", "feed", "rapid"]
    assert events(trace, "auxiliary")[-2:] == ["c-axis angle 8", "interpolation off"]
    assert "curve with the C axis G03 R5." in events(trace, "auxiliary")
    assert "polar interpolation" in named(trace)
    assert doings(trace) != doings(run(text.replace("R5.", "R6."), with_c()))


def test_cylindrical_interpolation_names_its_radius_and_ends_with_c0() -> None:
    for on, off in (("G107 C20.", "G107 C0"), ("G07.1 C20.", "G07.1 C0")):
        trace = run(START + f"G00 Z0. C0.\n{on}\nG01 Z-5. C30. F100.\nG02 Z-8. C40. R4.\n{off}\nM30\n", with_c())
        assert codes(trace) == []
        assert dict(state_of(trace).auxiliaries)["interpolation"] == "cylindrical 20"
        assert dict(trace.end.auxiliaries)["interpolation"] == "off"
        assert last(trace) == (50, -8)
    assert events(run(START + "G107\nM30\n"), "unexecuted") == ["G107"]


@pytest.mark.parametrize(("word", "name"), [("Y5.", "the Y axis"), ("B90.", "the B axis"), ("V2.", "the Y axis")])
def test_words_of_axes_that_are_not_simulated_are_told_by_name(word: str, name: str) -> None:
    trace = run(START + f"G01 X40. {word} F100.\nM30\n")
    assert next(entry.reason for entry in trace.unchecked if entry.what == word).startswith(name)


# -- spindles -------------------------------------------------------------------------------------------------------------

SPINDLES = machine(
    spindle_selectors=FrozenMap({11: "main", 12: "second-spindle", 13: "live-tool"}),
    m_codes=FrozenMap(
        {
            **generic_lathe().m_codes,
            203: MCode(203, "second spindle forward", "critical", "with-motion", (("second-spindle", "forward"),)),
        }
    ),
)


def test_p_chooses_the_spindle_that_s_and_m03_are_for() -> None:
    trace = run(START + "G97 S2000 M04 P13 G00 X40.\nG96 S100 P12 M203\nX30.\nS800 M03 P11\nX20.\nM30\n", SPINDLES)
    first, second, third = trace.rows()[1:]
    state = trace.states[first.state]
    assert (state.speed, state.sense) == (500, "forward")
    assert dict(state.auxiliaries) == {"live-tool": "reverse", "live-tool speed": "2000 rev/min"}
    assert dict(trace.states[second.state].auxiliaries)["second-spindle"] == "forward"
    assert dict(trace.states[second.state].auxiliaries)["second-spindle speed"] == "100 m/min"
    assert trace.states[third.state].speed == 800
    assert named(trace) == []


def test_a_spindle_that_the_profile_does_not_know_makes_speed_and_sense_unknown() -> None:
    trace = run(START + "G97 S1000 M04 P13\nG00 X40.\nM30\n")
    state = state_of(trace)
    assert (state.speed, state.sense) == ("[S1000 P13]", "[M04 S1000 P13]")
    assert named(trace) == ["M04 S1000 P13"]


@pytest.mark.parametrize("words", ["G04 P500 S600", "G10 P1 Z0. S600", "M98 P5000 S600"])
def test_a_p_that_another_code_wants_chooses_no_spindle(words: str) -> None:
    assert state_of(run(START + f"{words}\nG00 X40.\nM30\n")).speed == 600


# -- two channels ---------------------------------------------------------------------------------------------------------

CHANNELS = machine(wait_codes=((100, 199),))


def sheet(other: int | None) -> Setup:
    return Setup("sheet", None, None, FrozenMap({}), FrozenMap({}), FrozenMap({}), (), "", other_channel=other)


def test_a_wait_is_an_event_with_its_channels() -> None:
    trace = run(START + "M101\nG00 X40.\nM102 P12\nM30\n", CHANNELS)
    assert [(wait.code, wait.block) for wait in waits(trace)] == [("M101", 2), ("M102 P12", 4)]
    assert named(trace) == []
    assert named(run(START + "M101\nM30\n")) == ["M101"]


@pytest.mark.parametrize(
    ("first", "second", "found"),
    [
        ("ABC", "ABC", None),
        ("", "", None),
        ("ABC", "ACB", ("B", "C", 1)),
        ("ABC", "AB", ("C", None, 2)),
        ("A", "AB", (None, "B", 1)),
    ],
)
def test_two_channels_must_come_to_the_same_waits_in_one_order(
    first: str, second: str, found: tuple[str | None, str | None, int] | None
) -> None:
    one, other = ([Wait(code, k) for k, code in enumerate(side)] for side in (first, second))
    parted = unmatched(one, other)
    told = parted and (parted.first and parted.first.code, parted.second and parted.second.code, parted.met)
    assert told == found
    mirrored = unmatched(other, one)
    assert mirrored == (parted and Unmatched(parted.second, parted.first, parted.met))


def test_the_other_channel_that_the_setup_sheet_names_is_run_and_held_against_this_one() -> None:
    own = "O1\n" + START + "M101\nM98 P3000\nM103\nM30\nO3000\nM102\nM99\n"
    meets, parts = "O2000\nM101\nM102\nM103\nM30\n", "O2000\nM101\nM103\nM102\nM30\n"
    assert codes(run(own, CHANNELS, setup=sheet(2000), library=[meets])) == []
    trace = run(own, CHANNELS, setup=sheet(2000), library=[parts])
    assert codes(trace) == ["wait-unmatched"]
    assert trace.faults[0].message.startswith("after 1 common waits this program waits at M102")
    assert codes(run(own + meets, CHANNELS, setup=sheet(2000))) == []
    assert codes(run(own, CHANNELS, setup=sheet(None), library=[parts])) == []
    assert named(run(own, CHANNELS, setup=sheet(2000))) == ["waits for program 2000"]


def test_selectors_and_waits_of_a_profile_are_read_and_written_back() -> None:
    text = (
        b'name = "two"\nextends = "generic-lathe"\nwait_codes = [[100, 199], [300, 399]]\nlabel_calls = [97]\n'
        b'[calls]\nG101 = 9010\nM6 = 9001\n[spindle_selectors]\n11 = "main"\n13 = "live-tool"\n'
    )
    lathe = parse_machine(text, "two")
    assert lathe.wait_codes == ((100, 199), (300, 399))
    assert dict(lathe.spindle_selectors) == {11: "main", 13: "live-tool"}
    assert (dict(lathe.calls), lathe.label_calls) == ({"G101": 9010, "M06": 9001}, (97,))
    assert replace(parse_machine(machine_text(lathe).encode(), "two"), title="") == replace(lathe, title="")
