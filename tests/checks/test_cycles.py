"""Cycles against worked values from outside the project; the source stands beside each check."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from math import ceil

import pytest

from verifier.control.cycles import (
    Hole,
    drill_axial,
    drill_radial,
    face_peck,
    facing_pass,
    groove,
    multi_thread,
    pattern_repeat,
    rough_turn,
    thread_depths,
    thread_pass,
    turning_pass,
)
from verifier.control.strokes import Contour, CycleFault, Expansion, Kind, Point, Segment, Stroke
from verifier.geometry import run_in, run_out

MM = 100_000_000
INCH = 2_540_000_000


def mm(text: str) -> int:
    return int(Decimal(text) * MM)


def inch(text: str) -> int:
    return int(Decimal(text) * INCH)


def at(diameter: str, z: str) -> Point:
    return Point(mm(diameter) // 2, mm(z))


def strokes(expansion: Expansion) -> list[Stroke]:
    assert not isinstance(expansion, CycleFault), expansion
    return [s for s in expansion if isinstance(s, Stroke)]


def plain(ticks: int) -> str:
    value = Decimal(ticks) / MM
    return str(value.quantize(Decimal(1))) if value == value.to_integral() else str(value.normalize())


def told(expansion: Expansion) -> list[tuple[str, str, str]]:
    """Kind, diameter and Z in millimetres, as a setter would write them."""
    return [(s.kind.name.lower(), plain(2 * s.end.x), plain(s.end.z)) for s in strokes(expansion)]


def line_contour(start: Point, *points: Point) -> Contour:
    places = (start, *points)
    kinds = (Kind.RAPID, *(Kind.FEED for _ in points))
    return Contour(
        tuple(Segment(kinds[i], places[i], places[i + 1], 10 + i) for i in range(len(points))), names_both_axes=False
    )


def test_rough_turning_takes_the_eleven_levels_of_the_worked_example() -> None:
    """X62 start, contour from X20, allowance 0.4 on diameter, depth 2: computed, ceil(42 / 2 / 2) = 11 passes.

    Common practice, no source, for the rule that levels count from the start moved by the allowance.
    """
    start = at("62", "2")
    contour = line_contour(start, at("20", "2"), at("20", "-30"), at("62", "-50"))
    expansion = rough_turn(start, contour, mm("2"), mm("0.5"), mm("0.2"), mm("0.1"), Kind.RAPID, pockets=False)
    infeeds = [Decimal(2 * s.end.x) / MM for s in strokes(expansion) if s.step.endswith(": infeed")]
    expected = "58.4 54.4 50.4 46.4 42.4 38.4 34.4 30.4 26.4 22.4 20.4"
    assert infeeds == [Decimal(v) for v in expected.split()]
    assert len(infeeds) == ceil(Fraction(42, 2) / 2) == 11
    assert strokes(expansion)[0].end == at("62.4", "2.1")
    assert strokes(expansion)[-1].end == start


def test_a_short_rough_turning_cycle_written_out_by_hand() -> None:
    """Two levels down a plain shoulder. Skeleton from public sources; 45-degree retract common practice, no source."""
    start = at("50", "2")
    contour = line_contour(start, at("44", "2"), at("44", "-20"), at("50", "-20"))
    expansion = rough_turn(start, contour, mm("2"), mm("0.5"), mm("0.25"), mm("0.1"), Kind.FEED, pockets=False)
    assert told(expansion) == [
        ("rapid", "50.5", "2.1"),
        ("feed", "46.5", "2.1"),
        ("feed", "46.5", "-19.9"),
        ("rapid", "47.5", "-19.4"),
        ("rapid", "47.5", "2.1"),
        ("feed", "44.5", "2.1"),
        ("feed", "44.5", "-19.9"),
        ("rapid", "45.5", "-19.4"),
        ("rapid", "45.5", "2.1"),
        ("rapid", "44.5", "2.1"),
        ("feed", "44.5", "-19.9"),
        ("feed", "50.5", "-19.9"),
        ("rapid", "50", "2"),
    ]


@pytest.mark.parametrize(
    ("height", "first", "minimum", "allowance", "finishes", "expected"),
    [
        ("1.534", "0.4", "0.1", "0.05", 2, "0.4 0.5657 0.6928 0.8 0.9 1.0 1.1 1.2 1.3 1.4 1.484 1.534 1.534"),
        ("0.92", "0.3", "0.05", "0.05", 1, "0.3 0.4243 0.5196 0.6 0.6708 0.7348 0.7937 0.8485 0.87 0.92"),
        ("0.613", "0.2", "0.05", "0.02", 1, "0.2 0.2828 0.3464 0.4 0.45 0.5 0.55 0.593 0.613"),
    ],
)
def test_thread_depths_follow_the_square_root_rule(
    height: str, first: str, minimum: str, allowance: str, finishes: int, expected: str
) -> None:
    """M20x2.5, M10x1.5 and pitch 1, in millimetres. Rule: depth = first * sqrt(n), smallest increment (public sources).

    Values computed from the rule by hand. In the second row the eighth increment, 0.0548, is still above 0.05; the
    remainder after it, 0.0215, is smaller than the smallest increment and is taken nevertheless, to stop at 0.87.
    """
    depths = thread_depths(mm(height), mm(first), mm(minimum), mm(allowance), finishes)
    assert [round(Decimal(d) / MM, 4) for d in depths] == [Decimal(v) for v in expected.split()]


@pytest.mark.parametrize(
    ("height", "first", "allowance"), [("1.534", "0.4", "0.05"), ("0.92", "0.3", "0"), ("2", "0.5", "0")]
)
def test_roughing_passes_without_a_smallest_increment(height: str, first: str, allowance: str) -> None:
    """ceil(((height - allowance) / first)^2) passes: computed from the rule."""
    count = ceil((Fraction(height) - Fraction(allowance)) ** 2 / Fraction(first) ** 2)
    assert len(thread_depths(mm(height), mm(first), 0, mm(allowance), 1)) == count + 1


def test_a_wide_groove_written_out_by_hand() -> None:
    """X40 to X34 in pecks of 2, Z-10 to Z-15 in steps of 3, return 0.5, relief 0.2.

    First column without relief, rapid returns, end at the start: public sources; the rest common practice, no source.
    """
    expansion = groove(at("40", "-10"), at("34", "-15"), mm("2"), mm("3"), mm("0.2"), mm("0.5"))
    assert told(expansion) == [
        ("feed", "36", "-10"),
        ("rapid", "37", "-10"),
        ("feed", "34", "-10"),
        ("rapid", "40", "-10"),
        ("rapid", "40", "-13"),
        ("feed", "36", "-13"),
        ("rapid", "37", "-13"),
        ("feed", "34", "-13"),
        ("rapid", "34", "-12.8"),
        ("rapid", "40", "-12.8"),
        ("rapid", "40", "-15"),
        ("feed", "36", "-15"),
        ("rapid", "37", "-15"),
        ("feed", "34", "-15"),
        ("rapid", "34", "-14.8"),
        ("rapid", "40", "-14.8"),
        ("rapid", "40", "-10"),
    ]
    steps = [s.step for s in strokes(expansion)]
    assert steps[4:9] == [
        "column 2 of 3: step over",
        "column 2 of 3, peck 1 of 2",
        "column 2 of 3, peck 1 of 2: retract",
        "column 2 of 3, peck 2 of 2",
        "column 2 of 3: relief",
    ]


def test_a_wide_groove_travels_its_width_less_the_blade() -> None:
    """A 0.156 in groove with a 0.100 in blade moves the blade sideways by 0.056 in: common practice, no source."""
    start, blade, width = Point(inch("0.5"), inch("-0.5")), inch("0.100"), inch("0.156")
    end = Point(inch("0.4"), start.z - (width - blade))
    cuts = [s.end.z for s in strokes(groove(start, end, inch("0.02"), inch("0.04"), 0, inch("0.005"))) if s.kind.cuts]
    assert max(cuts) - min(cuts) == inch("0.056")
    assert sorted(set(cuts), reverse=True) == [start.z, start.z - inch("0.04"), start.z - inch("0.056")]


def test_chip_breaking_drilling_written_out_by_hand() -> None:
    """Z2 to Z-9 in pecks of 5, return 1. Common practice, no source."""
    assert told(face_peck(at("0", "2"), at("0", "-9"), mm("5"), None, 0, mm("1"))) == [
        ("feed", "0", "-3"),
        ("rapid", "0", "-2"),
        ("feed", "0", "-8"),
        ("rapid", "0", "-7"),
        ("feed", "0", "-9"),
        ("rapid", "0", "2"),
    ]


def test_a_taper_turning_pass_written_out_by_hand() -> None:
    """X50 from X60, taper -2 (radius): the cut begins at X46. Common practice, no source."""
    assert told(turning_pass(at("60", "2"), at("50", "-30"), mm("-2"))) == [
        ("rapid", "46", "2"),
        ("feed", "50", "-30"),
        ("feed", "60", "-30"),
        ("rapid", "60", "2"),
    ]


def test_a_taper_facing_pass_written_out_by_hand() -> None:
    """Z-5 from Z2, taper -3 along Z: the cut begins at Z-8. Steps from public sources."""
    assert told(facing_pass(at("60", "2"), at("20", "-5"), mm("-3"))) == [
        ("rapid", "60", "-8"),
        ("feed", "20", "-5"),
        ("feed", "20", "2"),
        ("rapid", "60", "2"),
    ]


def test_a_facing_taper_against_the_travel_must_not_be_longer_than_it() -> None:
    """Taper and travel of opposite sign need |taper| <= |travel|: public sources."""
    assert not isinstance(facing_pass(at("60", "2"), at("20", "-5"), mm("7")), CycleFault)
    fault = facing_pass(at("60", "2"), at("20", "-5"), mm("7.001"))
    assert isinstance(fault, CycleFault)
    assert fault.code == "taper-longer-than-travel"


def test_a_single_thread_pass_written_out_by_hand() -> None:
    """M20x2.5, first pass at X19.2, pull-out 2.5 before Z-30 at 45 degrees. Common practice, no source."""
    assert told(thread_pass(at("26", "5"), at("19.2", "-30"), 0, mm("2.5"), mm("2.5"))) == [
        ("rapid", "19.2", "5"),
        ("thread", "19.2", "-27.5"),
        ("thread", "24.2", "-30"),
        ("rapid", "26", "-30"),
        ("rapid", "26", "5"),
    ]


def test_flank_infeed_shifts_each_pass_by_the_tangent_of_half_the_angle() -> None:
    """60 degrees: tan 30 = 0.57735 times the depth still to go before the last roughing pass.

    Single flank from public sources, the formula and its reference common practice, no source.
    """
    expansion = multi_thread(
        at("26", "5"),
        at("16.932", "-30"),
        0,
        mm("1.534"),
        mm("0.4"),
        mm("0.1"),
        mm("0.05"),
        2,
        600,
        0,
        mm("2.5"),
        "single-flank",
    )
    cuts = [(strokes(expansion)[i - 1].end, s) for i, s in enumerate(strokes(expansion)) if s.kind is Kind.THREAD]
    shifts = [Decimal(begin.z - mm("5")) / MM for begin, _ in cuts]
    assert round(shifts[0], 5) == Decimal("0.62585")  # (1.484 - 0.4) * 0.5773503
    assert round(shifts[1], 4) == Decimal("0.5302")  # (1.484 - 0.565685) * 0.5773503
    assert shifts[-3:] == [0, 0, 0]
    assert {s.end.z for _, s in cuts} == {mm("-30")}
    assert Decimal(2 * cuts[0][1].end.x) / MM == Decimal("19.2")
    assert Decimal(2 * cuts[-1][1].end.x) / MM == Decimal("16.932")


def test_pattern_repeating_spaces_its_passes_evenly() -> None:
    """Three passes, escape 3 and 2, allowance 0.2 and 0.1: 3.2, 1.7 and 0.2 in X. Common practice, no source."""
    start = at("60", "5")
    contour = line_contour(start, at("20", "2"), at("20", "-30"), at("40", "-40"))
    expansion = pattern_repeat(start, contour, mm("3"), mm("2"), mm("0.2"), mm("0.1"), 3)
    approaches = [s.end for s in strokes(expansion) if s.step.endswith("approach")]
    assert approaches == [at("66.4", "7.1"), at("63.4", "6.1"), at("60.4", "5.1")]
    assert told(expansion)[1:5] == [
        ("rapid", "26.4", "4.1"),
        ("feed", "26.4", "-27.9"),
        ("feed", "46.4", "-37.9"),
        ("rapid", "63.4", "6.1"),
    ]
    assert strokes(expansion)[-1].end == start


def test_a_hole_with_small_retracts_written_out_by_hand() -> None:
    """Z2, R level 1, to Z-19 in pecks of 8, back by 0.5 each time. Words from public sources, motion common practice, no source."""
    hole = Hole("drill", mm("1"), mm("-19"), mm("2"), mm("8"), mm("0.5"))
    assert told(drill_axial(at("0", "2"), hole)) == [
        ("rapid", "0", "1"),
        ("feed", "0", "-7"),
        ("rapid", "0", "-6.5"),
        ("feed", "0", "-15"),
        ("rapid", "0", "-14.5"),
        ("feed", "0", "-19"),
        ("rapid", "0", "2"),
    ]


def test_a_hole_with_full_retracts_written_out_by_hand() -> None:
    """Radial, from X62 (R level 52) to X40 in pecks of 4: out to the R level, back in to 0.5 above the last depth.

    Common practice, no source.
    """
    hole = Hole("drill", mm("26"), mm("20"), mm("31"), mm("4"), mm("0.5"), full=True, dwell=300)
    assert told(drill_radial(at("62", "-10"), hole)) == [
        ("rapid", "52", "-10"),
        ("feed", "44", "-10"),
        ("rapid", "52", "-10"),
        ("rapid", "45", "-10"),
        ("feed", "40", "-10"),
        ("rapid", "62", "-10"),
    ]


def test_boring_comes_out_at_feed() -> None:
    """In feed, out feed: the fixed cycles' table of DIN 66025-2 and EIA RS-274-D, from memory."""
    assert told(drill_axial(at("20", "5"), Hole("bore", mm("2"), mm("-30"), mm("5")))) == [
        ("rapid", "20", "2"),
        ("feed", "20", "-30"),
        ("feed", "20", "2"),
        ("rapid", "20", "5"),
    ]


@pytest.mark.parametrize(
    ("major", "lead", "root"),
    [
        ("6", "1", "4.773"),
        ("8", "1.25", "6.466"),
        ("10", "1.5", "8.160"),
        ("12", "1.75", "9.853"),
        ("16", "2", "13.546"),
        ("20", "2.5", "16.933"),
        ("24", "3", "20.319"),
    ],
)
def test_a_thread_begun_at_its_major_diameter_ends_at_the_root_of_the_table(major: str, lead: str, root: str) -> None:
    """d3 = d - 1.226869 P, height 17/24 H = 0.613435 P: ISO 68-1 and the tables that hold its values (M6 to M24)."""
    height = round(Decimal("0.613435") * Decimal(lead) * MM)
    start, end = at("40", "5"), Point(mm(major) // 2 - height, mm("-30"))
    expansion = multi_thread(
        start, end, 0, height, mm("0.2"), mm("0.05"), mm("0.02"), 1, 600, 0, mm(lead), "single-flank"
    )
    cuts = [s for s in strokes(expansion) if s.kind is Kind.THREAD]
    assert round(Decimal(2 * cuts[-1].end.x) / MM, 3) == Decimal(root)
    assert Decimal(2 * (cuts[0].end.x + mm("0.2"))) / MM == Decimal(major)


@pytest.mark.parametrize(
    ("major", "pitches", "root"),
    [
        ("0.25", 20, "0.1887"),
        ("0.375", 16, "0.2983"),
        ("0.5", 13, "0.4056"),
        ("0.75", 10, "0.6273"),
        ("0.75", 16, "0.6733"),
    ],
)
def test_inch_threads_end_at_the_root_of_the_table(major: str, pitches: int, root: str) -> None:
    """d3 = d - 1.226869 P in inches, ASME B1.1 basic profile (17/24 H): 1/4-20 to 3/4-16."""
    lead = round(Fraction(INCH, pitches))
    height = round(Fraction(613435, 1_000_000) * lead)
    end = Point(inch(major) // 2 - height, inch("-1"))
    expansion = multi_thread(
        Point(inch("1"), inch("0.2")), end, 0, height, inch("0.008"), inch("0.002"), 0, 1, 600, 0, lead, "plunge"
    )
    last = [s for s in strokes(expansion) if s.kind is Kind.THREAD][-1]
    assert round(Decimal(2 * last.end.x) / INCH, 4) == Decimal(root)


def test_infeed_on_either_flank_in_turn_lies_beyond_the_last_roughing_pass_by_what_the_other_lies_before_it() -> None:
    """Second pass of M20x2.5 at 60 degrees: (1.484 - 0.565685) tan 30 = 0.5302 mm beyond. Common practice, no source."""
    expansion = multi_thread(
        at("26", "5"), at("16.932", "-30"), 0, mm("1.534"), mm("0.4"), mm("0.1"), mm("0.05"), 2, 600, 0, mm("2.5"),
        "both-flanks",
    )  # fmt: skip
    starts = [
        strokes(expansion)[i - 1].end.z - mm("5") for i, s in enumerate(strokes(expansion)) if s.kind is Kind.THREAD
    ]
    assert [round(Decimal(z) / MM, 4) for z in starts[:2]] == [Decimal("0.6258"), Decimal("-0.5302")]
    assert starts[-3:] == [0, 0, 0]


def test_run_in_and_run_out_of_a_thread() -> None:
    """L n / 1800 and 3.605 L n / 1800 (1 % lead error, time constant 33 ms): constants read in public sources."""
    assert round(run_out(1.5, 1000), 3) == 0.833
    assert round(run_in(1.5, 1000), 3) == 3.004
