"""What stays in force from block to block: speeds and their clamp, feeds, units, coordinates, tools, and who set it."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.control.running import INCH, MM, codes, doings, ends, events, machine, path, run, state_of
from verifier.control import FIELDS, held_speed
from verifier.geometry import spindle_speed
from verifier.machines import FrozenMap, Machine, MCode, generic_lathe

START = "G21 G99 G97 S500 M03\nG00 X50. Z5.\n"


# -- speeds -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "lines", ["G50 S2500\nG96 S200 M03", "G96 S200 M03\nG50 S2500", "G50 S2500 G96\nG97 S500\nG96 S200 M03"]
)
def test_the_clamp_holds_whether_it_stands_before_or_behind_g96(lines: str) -> None:
    trace = run(f"G21 G99 G97 S500 M03\n{lines}\nG00 X50. Z5.\nG01 X0. F.2\nM30\n")
    state = state_of(trace)
    assert (state.speed_mode, state.speed, state.clamp) == ("surface", 200, 2500)


@given(st.integers(1, 5000), st.integers(1, 600), st.integers(-80 * MM, 80 * MM))
@settings(max_examples=80, deadline=None)
def test_the_spindle_never_turns_faster_than_its_clamp_or_the_machine(clamp: int, surface: int, x: int) -> None:
    trace = run(f"G21 G99 G97 S100 M03\nG50 S{clamp}\nG96 S{surface}\nG00 X50. Z5.\nG01 X0. F.2\nM30\n")
    rpm = spindle_speed(state_of(trace), x, generic_lathe())
    assert rpm is not None
    assert 0 < rpm <= min(clamp, 4000)


def test_s_beside_g50_is_the_clamp_and_never_the_speed() -> None:
    trace = run("G21 G99 G97 S500 M03\nG50 G96 S1500\nG00 X50. Z5.\nG01 X0. F.2\nM30\n")
    state = state_of(trace)
    assert state.clamp == 1500
    assert state.speed is None  # no surface speed was ever given


def test_g96_without_s_takes_the_surface_speed_given_last() -> None:
    """Common practice, no source."""
    trace = run("G21 G99 G96 S180 M03\nG97 S900\nG96\nG00 X50. Z5.\nG01 X0. F.2\nM30\n")
    assert (state_of(trace).speed_mode, state_of(trace).speed) == ("surface", 180)


def test_g97_without_s_keeps_the_speed_of_that_moment_under_its_clamp() -> None:
    """G97 without S keeps the last speed: read in a course text. 180 m/min at 50 mm is 1145.92 rev/min (n = 1000 v / (pi D))."""
    text = "G21 G99 G50 S{} M03\nG96 S180\nG00 X50. Z5.\nG97\nG01 X0. F.2\nM30\n"
    free, held = (run(text.format(clamp)) for clamp in (3000, 1000))
    found = held_speed(state_of(free).speed)
    assert found is not None
    assert (found.surface, found.x, found.clamp) == (180, 25 * MM, 3000)
    assert spindle_speed(state_of(free), 0, generic_lathe()) == pytest.approx(1145.92, abs=0.005)
    assert spindle_speed(state_of(held), 0, generic_lathe()) == pytest.approx(1000)
    assert doings(free) != doings(held)


def test_an_s_before_any_speed_mode_is_not_taken_for_revolutions() -> None:
    trace = run("G21 G99 S200 M03\nG00 X50. Z5.\nG97\nG01 X0. F.2\nM30\n")
    assert state_of(trace).speed == "S 200 given before the speed mode"
    assert spindle_speed(state_of(trace), MM, generic_lathe()) is None


def test_surface_speed_in_inch_is_feet_per_minute() -> None:
    trace = run("G20 G99 G96 S500 M03\nG00 X2. Z.2\nG01 X0. F.01\nM30\n")
    assert state_of(trace).speed == 500 * Fraction(3048, 10000)  # 1 ft = 0.3048 m by definition


@pytest.mark.parametrize("choice", ["no", "yes"])
def test_the_clamp_limits_a_constant_speed_only_where_the_profile_says_so(choice: str) -> None:
    on = machine({"clamp-limits-rpm-mode": choice})
    trace = run("G21 G99 G50 S1500 M03\nG97 S3000\nG00 X50. Z5.\nG01 X40. F.2\nM30\n", on)
    assert spindle_speed(state_of(trace), MM, on) == (3000 if choice == "no" else 1500)


def test_a_stopped_spindle_turns_at_nothing() -> None:
    trace = run("G21 G99 G97 S500 M03\nM05\nG00 X50. Z5.\nM30\n")
    assert spindle_speed(state_of(trace), MM, generic_lathe()) == 0


# -- feeds and units ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("choice", "feed"), [("kept", Fraction("0.2")), ("must-be-given-again", None)])
def test_f_across_a_change_of_feed_mode(choice: str, feed: Fraction | None) -> None:
    trace = run(START + "G01 Z0. F0.2\nG98\nZ-5.\nM30\n", machine({"feed-after-mode-change": choice}))
    assert (state_of(trace).feed_mode, state_of(trace).feed) == ("per-minute", feed)


def test_a_change_of_units_makes_feed_and_surface_speed_unknown_until_they_are_given_again() -> None:
    """Whether a control converts them or reads the number anew differs; here neither is taken."""
    trace = run("G21 G99 G96 S200 M03\nG00 X50. Z5.\nG01 Z0. F0.2\nG20\nZ-.2\nF.01 S500\nZ-.4\nM30\n")
    before, between, after = (state_of(trace, k) for k in (1, 2, 3))
    assert (before.feed, before.speed) == (Fraction("0.2"), 200)
    assert isinstance(between.feed, str)
    assert isinstance(between.speed, str)
    assert (after.feed, after.speed) == (Fraction("0.254"), Fraction("152.4"))
    assert sum("after the change of units" in entry.what for entry in trace.unchecked) == 2


NUMBERS = st.integers(-4000, 4000)


@given(st.lists(st.tuples(st.sampled_from("XZ"), NUMBERS, st.booleans()), min_size=1, max_size=12))
@settings(max_examples=60, deadline=None)
def test_an_inch_program_times_25_4_is_the_metric_program(steps: list[tuple[str, int, bool]]) -> None:
    """Law: the same moves, tick by tick, with exact decimals (1 in = 25.4 mm by definition)."""

    def text(units: str, scale: Fraction) -> str:
        def number(value: Fraction) -> str:
            scaled = value * scale * 10**6
            assert scaled.denominator == 1
            sign, digits = ("-" if scaled < 0 else ""), str(abs(scaled.numerator)).rjust(7, "0")
            return f"{sign}{digits[:-6]}.{digits[-6:]}"

        lines = [f"{units} G99 G97 S500 M03", f"G00 X{number(Fraction(2))} Z{number(Fraction(1))}"]
        for axis, thousandths, feeding in steps:
            lines.append(
                f"{'G01' if feeding else 'G00'} {axis}{number(Fraction(thousandths, 1000))} F{number(Fraction(1, 100))}"
            )
        return "\n".join([*lines, "M30", ""])

    inch, metric = run(text("G20", Fraction(1))), run(text("G21", Fraction("25.4")))
    assert path(inch) == path(metric)


@given(
    st.lists(st.tuples(st.integers(-30000, 30000), st.integers(-30000, 30000), st.booleans()), min_size=1, max_size=12)
)
@settings(max_examples=60, deadline=None)
def test_incremental_words_summed_up_are_the_absolute_ones(steps: list[tuple[int, int, bool]]) -> None:
    """Law: U and W from where the tool is = X and Z of the sum; X and U are diameters."""
    absolute, relative = ["G00 X50. Z5."], ["G00 X50. Z5."]
    x, z = 50000, 5000
    for dx, dz, feeding in steps:
        x, z = x + dx, z + dz
        code = "G01" if feeding else "G00"
        absolute.append(f"{code} X{thousandths(x)} Z{thousandths(z)} F.2")
        relative.append(f"{code} U{thousandths(dx)} W{thousandths(dz)} F.2")
    one, other = (run("\n".join(["G21 G99 G97 S500 M03", *lines, "M30", ""])) for lines in (absolute, relative))
    assert path(one) == path(other)


def thousandths(value: int) -> str:
    sign, digits = ("-" if value < 0 else ""), str(abs(value)).rjust(4, "0")
    return f"{sign}{digits[:-3]}.{digits[-3:]}"


def test_x_is_a_diameter_or_a_radius_as_the_axis_says() -> None:
    generic = generic_lathe()
    radius = machine(axes=FrozenMap({**generic.axes, "X": replace(generic.axes["X"], diameter=False)}))
    assert run(START + "M30\n").rows()[0].x1 == 25 * MM
    assert run(START + "M30\n", radius).rows()[0].x1 == 50 * MM


# -- tools --------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("word", "choice", "tool", "offset"),
    [
        ("T0101", "last-two-are-offset", 1, 1),
        ("T101", "last-two-are-offset", 1, 1),
        ("T10110", "last-two-are-offset", 101, 10),
        ("T1200", "last-two-are-offset", 12, 0),
        ("T11", "last-two-are-offset", 11, None),
        ("T5", "last-two-are-offset", 5, None),
        ("T11", "last-one-is-offset", 1, 1),
        ("T123", "last-one-is-offset", 12, 3),
        ("T5", "last-one-is-offset", 5, None),
        ("T0101 M06", "last-two-are-offset", 1, 1),
        ("T11 M06", "last-two-are-offset", 11, None),
        ("T11 M06", "last-one-is-offset", 11, None),
        ("T5 M06", "last-two-are-offset", 5, None),
    ],
)
def test_tool_words_of_one_to_five_digits(word: str, choice: str, tool: int, offset: int | None) -> None:
    """Four digits are tool and offset, offset 00 cancels: read in course texts; the other forms: common practice, no source."""
    trace = run(f"G21\n{word}\nG00 X50. Z5.\nM30\n", machine({"tool-word": choice}))
    assert (state_of(trace).tool, state_of(trace).offset) == (tool, offset)
    assert any("names no offset" in entry.reason for entry in trace.unchecked) is (offset is None)


@pytest.mark.parametrize("word", ["T-101", "T1.5", "T1.", "T#100"])
def test_a_tool_word_that_cannot_be_read_is_told(word: str) -> None:
    assert events(run(f"G21\n{word}\nM30\n"), "unexecuted")


def test_another_offset_makes_the_place_unknown_until_it_is_named() -> None:
    trace = run(START + "T0101\nG00 X50. Z5.\nT0102\nG01 W-1. F.1\nX40. Z0.\nM30\n")
    by_increment, named = trace.rows()[-2:]
    assert trace.bases[by_increment.bz0] == "Z T1/1>T1/2"
    assert (trace.bases[named.bx1], trace.bases[named.bz1]) == ("", "")


def test_the_turret_indexes_first_or_with_the_motion_as_the_profile_says() -> None:
    first, together = (
        events(run(START + "T0101 G00 X60.\nM30\n", machine({"tool-with-motion": choice})), "tool")
        for choice in ("index-first", "index-with-motion")
    )
    assert first == ["T1 offset 1"]
    assert together == ["T1 offset 1 during the move"]


# -- dwells -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "value"),
    [("P500", "1/2 s"), ("P1500", "3/2 s"), ("X1.5", "3/2 s"), ("U.25", "1/4 s"), ("X2", "1/500 s"), ("U1000", "1 s")],
)
def test_dwells(words: str, value: str) -> None:
    """P in whole milliseconds, X and U in seconds: course texts agree; without a point in thousandths: common practice, no source."""
    assert events(run(f"G21 G04 {words}\nM30\n"), "dwell") == [value]


def test_a_dwell_without_a_time_or_with_a_pointed_p_is_told() -> None:
    assert codes(run("G21 G04\nM30\n")) == ["dwell-without-time"]
    trace = run("G21 G04 P1.5\nM30\n")
    assert codes(trace) == ["integer-word-with-point"]
    assert events(trace, "dwell") == []


def test_a_dwell_in_revolutions_under_feed_per_revolution_where_the_profile_says_so() -> None:
    on = machine({"dwell-x-u": "revolutions-per-rev-feed"})
    assert events(run("G21 G99 G04 X3.\nM30\n", on), "dwell") == ["3 rev"]
    assert events(run("G21 G98 G04 X3.\nM30\n", on), "dwell") == ["3 s"]
    assert events(run("G21 G99 G04 P3000\nM30\n", on), "dwell") == ["3 s"]


# -- threads ------------------------------------------------------------------------------------------------------------


def test_g32_is_a_synchronised_move_with_its_lead_and_stays_in_force() -> None:
    trace = run(START + "G00 X20.\nG32 Z-20. F1.5\nX22. Z-21.\nM30\n")
    assert [row.kind.name for row in trace.rows()[2:]] == ["THREAD", "THREAD"]
    assert (state_of(trace).feed_mode, state_of(trace).feed) == ("lead", Fraction("1.5"))
    assert ends(trace)[-1] == ("thread", 22.0, -21.0)


def test_inch_leads_are_exact() -> None:
    trace = run("G20 G99 G97 S500 M03\nG00 X1. Z.2\nG32 Z-1. F.0625\nM30\n")
    assert state_of(trace).feed == Fraction(INCH, 16 * MM)


# -- who set it ---------------------------------------------------------------------------------------------------------

SETTERS = {
    "G96 S200": {"speed_mode": 0, "speed": 1},
    "G97 S800": {"speed_mode": 0, "speed": 1},
    "S300": {"speed": 0},
    "F0.3": {"feed": 0},
    "G98 F150.": {"feed_mode": 0, "feed": 1},
    "G99 F.15": {"feed_mode": 0, "feed": 1},
    "M03": {"sense": 0},
    "M04": {"sense": 0},
    "M08": {"coolant": 0},
    "M09": {"coolant": 0},
    "T0303": {"tool": 0, "offset": 0},
    "T0404": {"tool": 0, "offset": 0},
    "G50 S1800": {"clamp": 0},
    "G54": {"work_offset": 0},
    "G41": {"compensation": 0},
    "G40": {"compensation": 0},
    "G61": {"path_mode": 0},
    "G64": {"path_mode": 0},
    "G18": {"plane": 0},
}
"""Lines and the fields that each sets: the tiny interpreter below knows nothing else."""

ALWAYS = (
    "feed_mode",
    "feed",
    "speed_mode",
    "speed",
    "sense",
    "coolant",
    "tool",
    "offset",
    "clamp",
    "compensation",
    "path_mode",
    "plane",
)


@given(st.lists(st.sampled_from([*SETTERS, "cut", "rapid"]), min_size=1, max_size=25))
@settings(max_examples=120, deadline=None)
def test_each_value_in_force_names_the_block_that_set_it(lines: list[str]) -> None:
    text, setter, expected = ["G21", "G54"], {"work_offset": 1}, []
    for line in lines:
        k = len(text)
        if line in SETTERS:
            setter |= dict.fromkeys(SETTERS[line], k)
            text.append(line)
        else:
            expected.append((line, k, dict(setter)))
            text.append(f"{'G01' if line == 'cut' else 'G00'} X{k}. Z{k}.")
    trace = run("\n".join([*text, "M30", ""]))
    assert [row.block for row in trace.rows()] == [k for _, k, _ in expected]
    for row, (line, _, who) in zip(trace.rows(), expected, strict=True):
        state, origins = trace.states[row.state], trace.set_by[row.set_by]
        for name in ALWAYS:
            origin = origins[FIELDS.index(name)]
            block = int(trace.origins.block[origin]) if origin >= 0 else None
            if line == "rapid" and name in ("feed", "feed_mode"):
                assert getattr(state, name) is None
            elif name == "clamp" and state.speed_mode == "rpm":
                assert state.clamp is None
            else:
                assert block == who.get(name), name


# -- what stands around the spindle ---------------------------------------------------------------------------------------


def chuck_lathe() -> Machine:
    codes_of = {10: "open", 11: "close"}
    own = {
        n: MCode(n, f"chuck {state}", "critical", "after-motion", (("chuck", state),)) for n, state in codes_of.items()
    }
    pairs = ((("spindle", "turning"), ("chuck", "open")),)
    return machine(m_codes=FrozenMap({**generic_lathe().m_codes, **own}), never_together=pairs)


def test_auxiliary_states_are_in_force_with_the_block_that_set_them() -> None:
    trace = run("G21 G97 S500\nM11\nM03\nG00 X50. Z5.\nM30\n", chuck_lathe())
    row = trace.rows()[0]
    assert state_of(trace).auxiliaries == (("chuck", "close"),)
    origin = trace.set_by[row.set_by][FIELDS.index("auxiliaries")]
    assert trace.origins.blocks(origin)[0] == 1
    assert events(trace, "auxiliary") == ["chuck close"]


@pytest.mark.parametrize(
    ("lines", "meets"),
    [("M03\nM10", True), ("M10\nM04", True), ("M03\nM05\nM10", False), ("M11\nM03", False), ("M03 M10", True)],
)
def test_states_that_must_not_meet_are_a_fault(lines: str, meets: bool) -> None:
    trace = run(f"G21 G97 S500\n{lines}\nM30\n", chuck_lathe())
    assert ("states-must-not-meet" in codes(trace)) is meets


@pytest.mark.parametrize("words", ["S0", "S-100"])
def test_a_clamp_of_zero_or_less_is_a_fault(words: str) -> None:
    assert codes(run(f"G21\nG50 {words}\nM30\n")) == ["clamp-not-positive"]
