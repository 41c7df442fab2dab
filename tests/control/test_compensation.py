"""Moves under nose compensation in a trace: the tool's path, who shaped it, and what is told where it is not known or the nose does not fit."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest

from tests.control.running import codes, doings, ends, machine, program, run, state_of
from verifier.compare import compare, side
from verifier.control import FIELDS, Trace, execute
from verifier.control.compensation.apply import AS_PROGRAMMED, NO_OFFSET
from verifier.control.compensation.nose import nose_in_force, write_nose
from verifier.control.state import start_state
from verifier.findings.examples import sheet
from verifier.machines import Setup, Tool, generic_lathe

START = "G21 G99 G97 S500 M03\nT0101\nG00 X60. Z5.\n"
MM = 100_000_000


def nose(radius: str = "0.8", orientation: int | None = 3) -> Setup:
    return sheet(Tool(1, "turning", nose_radius=Fraction(radius), orientation=orientation))


def path(text: str, setup: Setup | None = None) -> list[tuple[str, float, float]]:
    """The moves behind the approach."""
    return ends(run(START + text, setup=setup or nose()))[1:]


def whats(trace: Trace, start: str) -> list[str]:
    return [entry.reason for entry in trace.unchecked if entry.what.startswith(start)]


def remarks(trace: Trace) -> list[str]:
    return [trace.remarks[row.remark] for row in trace.rows()]


# -- the path -----------------------------------------------------------------------------------------------------------------

STEP = "G42 G01 X40. Z2. F.2\nZ-20.\nX50.\nZ-30.\nG40 X60.\nM30\n"


def test_a_tip_below_and_before_the_nose_is_where_the_program_says_on_faces_and_cylinders() -> None:
    """Direction 3: the tip is the corner of the square about the nose, so faces and cylinders need no correction (common practice, no source)."""
    assert path(STEP) == [
        ("feed", 40, 1.2),
        ("feed", 40, -20),
        ("feed", 50, -20),
        ("feed", 50, -30.8),
        ("feed", 60, -30),
    ]


def test_the_nose_ends_square_to_the_last_block_and_leaves_by_the_move_of_g40() -> None:
    """NISTIR 6556 section 3.5.10 for the exit: no move of its own; the next move starts from where the tool is."""
    with_motion = path(STEP)
    alone = path(STEP.replace("G40 X60.", "G40\nM08\nX60."))
    assert with_motion == alone


def test_compensation_in_a_block_without_motion_begins_with_the_next_move() -> None:
    assert path(STEP) == path(STEP.replace("G42 G01 X40. Z2. F.2", "G42\nG01 X40. Z2. F.2"))


def test_compensation_begins_at_rapid_as_well_as_at_a_feed() -> None:
    (kind, *place), *others = path(STEP.replace("G01 X40. Z2.", "G00 X40. Z2.").replace("Z-20.", "G01 Z-20."))
    assert kind == "rapid" and [("feed", *place), *others] == path(STEP)


def test_a_zero_radius_is_the_programmed_path() -> None:
    sharp = run(START + STEP, setup=nose("0", None))
    plain = run(START + STEP.replace("G42 ", ""), setup=nose())
    assert ends(sharp) == ends(plain)
    assert remarks(sharp) == remarks(plain)


def test_left_mirrored_along_z_is_right() -> None:
    """A mirror turns left into right and direction 3 into 4; along Z every move is the other way round."""
    right = "G42 G01 X40. Z2. F.2\nZ-20.\nX50. Z-26.\nG02 X54. Z-28. R2.\nG01 X58.\nG40 X62. Z-35.\nM30\n"
    left = (
        right.replace("G42", "G41").replace("Z-", "Z*").replace("Z2.", "Z-2.").replace("Z*", "Z").replace("G02", "G03")
    )
    mirrored = [(kind.replace("ccw", "cw"), x, -z) for kind, x, z in path(left, nose(orientation=4))]
    assert mirrored == [(kind.replace("ccw", "cw"), x, z) for kind, x, z in path(right)]


def test_a_feed_move_in_two_pieces_is_the_same_path() -> None:
    whole, split = (
        side(program(START + t), generic_lathe(), setup=nose()) for t in (STEP, STEP.replace("Z-20.", "Z-7.\nZ-20."))
    )
    assert compare(whole, split).verdict == "same behaviour"


def test_increments_count_from_the_programmed_place() -> None:
    absolute = "G42 G01 X40. Z2. F.2\nX44. Z-8.\nZ-20.\nX50.\nG40 X60.\nM30\n"
    assert path(absolute) == path(absolute.replace("X44. Z-8.", "U4. W-10.").replace("Z-20.", "W-12."))


def test_inner_and_outer_corners_of_lines_and_arcs() -> None:
    """Worked by hand with r 0.8: an outer quarter corner at X50 Z-20 goes by its square's corner; the arc after it starts beside its own start."""
    text = "G42 G01 X40. Z2. F.2\nZ-10.\nX50.\nZ-20.\nX44.\nG02 X40. Z-22. R2.\nG40 G01 X60.\nM30\n"
    trace = run(START + text, setup=nose(orientation=9))
    found = ends(trace)[1:]
    # Nose centre: in front of the wall at Z-10 by 0.8, above the cylinder by 0.8, round the corner at X50 Z-20 to Z-20.8.
    assert found[1:4] == [("feed", 41.6, -9.2), ("feed", 51.6, -9.2), ("feed", 51.6, -20.8)]
    kind, x, z = found[5]
    row = trace.rows()[6]
    assert kind == "arc_cw" and (row.cx / MM, row.cz / MM) == (22, -22)
    assert (x, z) == (40, -20.8) or (row.x1 - row.cx) ** 2 + (row.z1 - row.cz) ** 2 == pytest.approx((1.2 * MM) ** 2)


def test_the_side_may_change_without_g40() -> None:
    text = "G42 G01 X40. Z2. F.2\nZ-10.\nG41 X60.\nZ-2.\nG40 X70.\nM30\n"
    as_entry = path(text, nose(orientation=9))
    assert as_entry[1:3] == [("feed", 41.6, -10), ("feed", 61.6, -10)]
    at_corner = ends(
        run(START + text, machine({"compensation-side-change": "at-the-corner"}), setup=nose(orientation=9))
    )
    assert at_corner[2:5] == [("feed", 41.6, -10), ("feed", 40, -10.8), ("feed", 61.6, -10.8)]
    assert "the side changes" in " ".join(whats(run(START + text, setup=nose()), "path under G41"))


def test_an_outer_corner_is_rounded_where_the_profile_says_so() -> None:
    text = "G42 G01 X40. Z2. F.2\nZ-10.\nX30.\nG40 Z-20.\nM30\n"
    found = ends(run(START + text, machine({"compensation-outer-corner": "arc"}), setup=nose(orientation=9)))
    assert found[2:5] == [("feed", 41.6, -10), ("arc_ccw", 40, -10.8), ("feed", 30, -10.8)]


def test_two_blocks_without_motion_lose_the_corner_and_one_does_not() -> None:
    def with_blocks(count: int, on: str) -> Trace:
        text = STEP.replace("X50.", "M08\n" * count + "X50.")
        return run(START + text, machine({"compensation-look-ahead": on}), setup=nose(orientation=9))

    assert ends(with_blocks(1, "one-block-without-motion")) == ends(with_blocks(0, "one-block-without-motion"))
    lost = with_blocks(2, "one-block-without-motion")
    assert ends(lost)[2] == ("feed", 41.6, -20)
    assert "compensation-corner-unseen" in codes(lost) and "nose-cuts-into-contour" in codes(lost)
    assert ends(with_blocks(5, "unlimited")) == ends(with_blocks(0, "unlimited"))


def test_a_reference_return_leaves_compensation_aside_and_it_comes_back_after() -> None:
    text = "G42 G01 X40. Z2. F.2\nZ-20.\nG28 U30.\nG00 X60. Z5.\nG01 X40. Z2.\nZ-20.\nG40 X70.\nM30\n"
    trace = run(START + text, setup=nose(orientation=9))
    assert codes(trace) == ["reference-under-compensation"]
    found = ends(trace)[1:]
    assert found[1:3] == [("feed", 41.6, -20), ("rapid", 70, -20)]
    assert found[-2] == ("feed", 41.6, -20)


def test_a_tool_change_under_compensation_enters_anew_with_the_other_nose() -> None:
    two = sheet(
        Tool(1, "turning", nose_radius=Fraction("0.8"), orientation=3),
        Tool(2, "turning", nose_radius=Fraction("0.4"), orientation=9),
    )
    text = "G42 G01 X40. Z2. F.2\nZ-20.\nT0202\nG00 X60. Z5.\nG01 X40. Z2.\nZ-20.\nG40 X70.\nM30\n"
    trace = run(START + text, setup=two)
    assert ends(trace)[-2] == ("feed", 40.8, -20)
    assert any("nose data change" in reason for reason in whats(trace, "path under G42"))


def test_work_offset_and_preset_under_compensation_enter_anew() -> None:
    trace = run(START + STEP.replace("X50.", "G50 Z0.\nX50."), setup=nose())
    assert any("coordinates change" in reason for reason in whats(trace, "path under G42"))


# -- who shaped it ------------------------------------------------------------------------------------------------------------


def test_an_end_rests_on_its_own_block_on_the_one_behind_and_on_who_set_compensation_and_tool() -> None:
    trace = run(START + STEP, setup=nose())
    row = trace.rows()[2]
    assert row.block == 4
    assert set(trace.origins.blocks(row.oz)) >= {4, 5, 3, 1}


@pytest.mark.parametrize(
    ("before", "after", "blocks"),
    [("X50.", "X50. Z-24.", (5,)), ("G42 G01", "G41 G01", (3,)), ("Z-20.", "Z-21.", (4,))],
)
def test_a_changed_end_is_led_back_to_the_block_that_was_edited(
    before: str, after: str, blocks: tuple[int, ...]
) -> None:
    old, new = START + STEP, START + STEP.replace(before, after, 1)
    found = compare(*(side(program(text), generic_lathe(), setup=nose()) for text in (old, new)))
    assert found.verdict == "changed behaviour"
    edited = {k for k, edit in enumerate(found.edits.edits) if set(edit.new) & set(blocks)}
    assert edited and all(set(effect.causes) == edited for effect in found.effects)
    if before == "X50.":
        assert any(d.old is not None and d.old.block == 4 for effect in found.effects for d in effect.differences)


def test_another_nose_radius_in_the_setup_sheet_moves_the_path_and_is_the_cause() -> None:
    taper = "G42 G01 X40. Z2. F.2\nX50. Z-20.\nG40 X60.\nM30\n"
    old, new = (side(program(START + taper), generic_lathe(), setup=nose(r)) for r in ("0.8", "0.4"))
    found = compare(old, new)
    assert found.verdict == "changed behaviour"
    assert {effect.causes for effect in found.effects} == {(-1,)}


# -- what is not known ----------------------------------------------------------------------------------------------------------

MISSING = [
    (None, "no setup sheet gives the nose radius of T0101"),
    (sheet(Tool(2, "turning")), "no nose radius for T0101: the setup sheet has no tool 1"),
    (sheet(Tool(1, "turning", orientation=3)), "no nose radius for T0101 in the setup sheet"),
    (sheet(Tool(1, "turning", nose_radius=Fraction("0.8"))), "no nose direction for T0101 in the setup sheet"),
]


@pytest.mark.parametrize(("setup", "reason"), MISSING, ids=[reason for _, reason in MISSING])
def test_what_is_missing_is_named_and_the_programmed_path_stands_for_the_tools(
    setup: Setup | None, reason: str
) -> None:
    trace = run(START + STEP, setup=setup)
    assert whats(trace, "path under G42") == [reason]
    plain = run(START + STEP.replace("G42 ", ""), setup=setup)
    assert ends(trace) == ends(plain)
    assert {remarks(trace)[k] for k in range(1, 5)} == {AS_PROGRAMMED} and remarks(trace)[5] == ""


def test_offset_00_holds_no_nose() -> None:
    trace = run(START.replace("T0101", "T0100") + STEP, setup=nose())
    assert whats(trace, "path under G42") == ["T0100 calls offset 00; nose data come with an offset"]


@pytest.mark.parametrize(
    ("edit", "verdict"),
    [
        (("Z-20.", "Z-20.0"), "same behaviour"),
        (("Z-20.", "Z-20.5"), "changed behaviour"),
        (("G42", "G41"), "changed behaviour"),
        (("Z-20.", "Z-10.\nZ-20."), "undetermined"),
        (("X50.", "N70\nN80\nX50."), "undetermined"),
    ],
)
def test_with_the_same_nose_unknown_equal_programs_are_equal_and_no_others(edit: tuple[str, str], verdict: str) -> None:
    old, new = (side(program(START + text), generic_lathe()) for text in (STEP, STEP.replace(*edit, 1)))
    if verdict == "undetermined":
        assert compare(old, new).verdict != "same behaviour"
    else:
        assert compare(old, new).verdict == verdict


def test_a_nose_known_on_one_side_only_is_no_same_behaviour() -> None:
    sides = [side(program(START + STEP), generic_lathe(), setup=setup) for setup in (nose(), None)]
    assert compare(*sides).verdict != "same behaviour"


def test_nothing_is_computed_in_another_plane() -> None:
    trace = run(START + "G17\n" + STEP, setup=nose())
    assert whats(trace, "path under G42") == ["in the plane G17 compensation is not computed"]


def test_an_arc_that_cannot_be_breaks_the_chain_and_is_told() -> None:
    trace = run(START + STEP.replace("X50.", "G02 X50. R1.\nG01"), setup=nose())
    assert any("arc itself" in reason for reason in whats(trace, "path under G42"))


# -- nose data written by the program -------------------------------------------------------------------------------------------


def test_nose_data_that_the_program_wrote_count_before_the_setup_sheet() -> None:
    modal = start_state(generic_lathe())
    modal.put("tool", 1, 4)
    modal.put("offset", 1, 4)
    assert nose_in_force(modal, nose())[:2] == (80_000_000, 3)
    write_nose(modal, 1, radius=40_000_000, origin=7)
    assert nose_in_force(modal, nose()) == (40_000_000, 3, "", 7)
    write_nose(modal, 1, orientation=2, origin=8)
    assert nose_in_force(modal, None) == (40_000_000, 2, "", 8)
    modal.put("offset", 2, 9)
    assert nose_in_force(modal, nose())[:2] == (80_000_000, 3)


# -- what is wrong ---------------------------------------------------------------------------------------------------------------


def test_an_inner_arc_smaller_than_the_nose_is_told_with_place_and_amount() -> None:
    text = "G42 G01 X40. Z2. F.2\nZ-19.5\nG02 X41. Z-20. R.5\nG01 X50.\nG40 X60.\nM30\n"
    trace = run(START + text, setup=nose())
    (fault,) = trace.faults
    assert (fault.code, fault.block) == ("nose-larger-than-arc", 5)
    assert "0.3 mm too large" in fault.message and "X41 Z-20" in fault.message
    assert NO_OFFSET in remarks(trace)


def test_a_groove_narrower_than_the_nose_is_told_with_the_amount() -> None:
    """Walls 1 mm apart, a nose of diameter 1.6: 0.6 mm too wide (plane geometry)."""
    text = "G42 G01 X50. Z2. F.2\nZ-10.\nX40.\nZ-11.\nX50.\nZ-20.\nG40 X60.\nM30\n"
    (fault,) = run(START + text, setup=nose()).faults
    assert fault.code == "nose-cuts-into-contour" and "cuts 0.6 mm" in fault.message


def test_a_move_too_short_for_the_corner_behind_it_is_told() -> None:
    """Square to the end of the first piece, 0.3 mm before a wall, a nose of 0.8 is 0.5 mm in the wall (plane geometry)."""
    whole = "G42 G01 X40. Z2. F.2\nZ-20.\nX50.\nG40 X60.\nM30\n"
    trace = run(START + whole.replace("Z-20.", "Z-19.7\nZ-20."), setup=nose())
    (fault,) = trace.faults
    assert (fault.code, fault.block) == ("nose-cuts-into-contour", 4) and "cuts 0.5 mm" in fault.message


def test_a_nose_that_just_fills_a_fillet_is_no_fault_but_is_told() -> None:
    text = "G42 G01 X40. Z2. F.2\nZ-19.2\nG02 X41.6 Z-20. R.8\nG01 X50.\nG40 X60.\nM30\n"
    trace = run(START + text, setup=nose())
    assert codes(trace) == []
    assert any("just fills" in reason for reason in whats(trace, "path under G42"))


def test_the_path_back_along_the_same_line_is_told() -> None:
    text = "G42 G01 X40. Z2. F.2\nZ-20.\nG00 Z2.\nG40 X60.\nM30\n"
    assert codes(run(START + text, setup=nose())) == ["nose-changes-side"]


def test_compensation_switched_in_an_arc_is_told() -> None:
    text = "G01 X40. Z2. F.2\nG42 G03 X50. Z-3. R5.\nG01 Z-20.\nG40 X60.\nM30\n"
    assert codes(run(START + text, setup=nose())) == ["compensation-switched-in-arc"]


@pytest.mark.parametrize("entry", ["square", "as-a-corner"])
@pytest.mark.parametrize("way", ["G42 G01 X27. F.1", "G42 G01 X27. Z0 F.1\nZ-5."])
def test_a_way_home_behind_an_entry_from_an_unknown_place_has_no_heading(entry: str, way: str) -> None:
    """Found by fuzzing: neither the entry nor the way home to the reference point has a direction here."""
    trace = run(
        f"G21 G99 G97 S500 M03\nT0101\nG28 U0 W0\n{way}\nG28 U0 W0\nM30\n",
        machine({"compensation-entry": entry}),
        setup=nose(),
    )
    row = trace.rows()[-1]
    assert (trace.bases[row.bx1], trace.bases[row.bz1]) == ("X at reference", "Z at reference")


def test_a_short_entry_is_told_with_its_length() -> None:
    text = "G01 X41. Z2. F.2\nG42 X40.\nZ-20.\nG40 X60.\nM30\n"
    (fault,) = run(START + text, setup=nose()).faults
    assert fault.code == "entry-shorter-than-nose" and "0.5 mm" in fault.message and "0.8 mm" in fault.message


# -- cycles ------------------------------------------------------------------------------------------------------------------------

CONTOUR = "N10 G00 G42 X20.\nG01 Z-10. F.1\nX40. Z-30.\nN20 G40 X52.\n"
ROUGH = "G71 U2. R1.\nG71 P10 Q20 U0 W0 F.3\n" + CONTOUR


def test_the_finish_cycle_is_compensated_and_its_return_is_not() -> None:
    by_cycle = run(START + "G70 P10 Q20\n" + "G00 X80.\nM30\n" + CONTOUR, setup=nose())
    by_hand = run(START + CONTOUR + "G00 X60. Z5.\nX80.\nM30\n", setup=nose())
    assert ends(by_cycle) == ends(by_hand)
    (call,) = by_cycle.cycles
    assert (call.first_move, call.moves) == (1, 5)


def test_roughing_ignores_compensation_or_applies_it_as_the_profile_says() -> None:
    written = CONTOUR.replace("G40 ", "")
    rough = ROUGH.replace(CONTOUR, written) + "M30\n"
    plain = run(START + rough.replace("G42 ", ""), setup=nose())
    ignored = run(START + rough, setup=nose())
    assert ends(ignored) == ends(plain)
    applied = run(START + rough, machine({"compensation-in-roughing": "applied"}), setup=nose())
    _, *contour = ends(run(START + written + "M30\n", setup=nose()))
    followed = [
        end
        for end, row in zip(ends(applied), applied.rows(), strict=True)
        if applied.steps[row.step] == "pass along the boundary"
    ]
    assert [end[1:] for end in followed] == [end[1:] for end in contour[1:]]
    assert ends(applied) != ends(plain)
    for trace in (ignored, applied):
        assert any(entry.what.startswith("choice compensation-in-roughing") for entry in trace.unchecked)


def test_counts_of_moves_follow_when_corners_add_moves() -> None:
    """Straight lines round a sharp outer corner are moves of their own: events, cycles and the first pass count them."""
    text = "G42 G01 X40. Z2. F.2\nZ-10.\nX20. Z-8.\nM00\nG40 X16.\nG04 P100\nM99\n"
    trace = run(START + text, setup=nose(orientation=9))
    stop = next(e for e in trace.events if e.kind == "stop")
    assert trace.rows()[stop.at - 1].block == 5 and trace.rows()[stop.at].block == 7
    dwell = next(e for e in trace.events if e.kind == "dwell")
    assert trace.rows()[dwell.at - 1].block == 7
    assert trace.first_pass == dwell.at
    assert [row.ends for row in trace.rows()[: trace.first_pass]].count(True) == 5


def test_every_move_starts_where_the_one_before_ended() -> None:
    for text in (STEP, ROUGH + "M30\n", "G70 P10 Q20\nM30\n" + CONTOUR):
        rows = run(START + text, setup=nose()).rows()
        for one, other in pairwise(rows[1:]):
            assert (one.x1, one.z1) == (other.x0, other.z0)


def test_a_program_without_compensation_is_untouched_by_the_sheet() -> None:
    text = START + STEP.replace("G42 ", "").replace("G40 ", "")
    assert doings(run(text)) == doings(run(text, setup=nose()))


def test_the_state_during_a_compensated_move_says_so() -> None:
    trace = run(START + STEP, setup=nose())
    assert [state_of(trace, k).compensation for k in range(1, 5)] == ["G42"] * 4
    setter = trace.set_by[trace.rows()[2].set_by][FIELDS.index("compensation")]
    assert trace.origins.block[setter] == 3


def test_the_same_program_in_inches_is_the_same_path() -> None:
    """1 in = 25.4 mm exactly."""
    metric = run(START + STEP, setup=nose("0.79375"))
    scaled = "G20 G99 G97 S500 M03\nT0101\nG00 X60. Z5.\n" + STEP
    inch = run(scaled, replace(generic_lathe()), setup=nose(str(Fraction("0.79375") * Fraction("25.4"))))
    assert [(k, x / 25.4, z / 25.4) for k, x, z in ends(inch)] == [
        (k, pytest.approx(x), pytest.approx(z)) for k, x, z in ends(metric)
    ]


def test_an_execution_without_a_machine_does_not_exist_so_parts_are_compensated_too() -> None:
    from verifier.control import execute_part

    text = program(START + STEP)
    whole = execute(text, generic_lathe(), setup=nose())
    part = execute_part(text, generic_lathe(), 0, len(text.blocks), setup=nose())
    assert ends(whole) == ends(part)
