"""Roughing removes what stands above the boundary, level by level, and nothing of what lies below it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely.geometry import box

from verifier.control.cycles import STROKE_LIMIT, rough_face, rough_turn
from verifier.control.strokes import Contour, CycleFault, Expansion, Kind, Point, Segment, Stroke

from .shapes import (
    EXCHANGE,
    HUNDREDTH,
    MIRROR_X,
    MIRROR_Z,
    MM,
    Rough,
    boundary_of,
    code_of,
    moved,
    moves,
    rapids_through,
    removed_by,
    roughs,
    under,
)

FEW = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
EVERY = st.one_of(roughs(), roughs(rising_only=False))


def top_of(rough: Rough) -> float:
    return (rough.start.x + rough.allowance_x) / MM


def levels_only(strokes: list[Stroke]) -> list[Stroke]:
    return [s for s in strokes if s.step.startswith(("move off", "level"))]


@FEW
@given(EVERY)
def test_the_whole_cycle_removes_exactly_what_stands_above_the_boundary(rough: Rough) -> None:
    strokes, top = moves(rough_turn(*rough.arguments())), top_of(rough)
    stock = under(boundary_of(rough), top)
    removed = removed_by(rough.start, strokes, top)
    # Arcs are drawn as chains of 60 chords a radian: up to radius * 3.5e-5 off, along at most 100 mm.
    assert removed.symmetric_difference(stock).area < 0.02


@FEW
@given(roughs(rising_only=False))
def test_levels_that_follow_the_contour_leave_only_the_boundary(rough: Rough) -> None:
    strokes, top = levels_only(moves(rough_turn(*rough.arguments()))), top_of(rough)
    assert removed_by(rough.start, strokes, top).symmetric_difference(under(boundary_of(rough), top)).area < 0.02


@FEW
@given(roughs())
def test_levels_of_a_rising_contour_leave_steps_lower_than_one_depth(rough: Rough) -> None:
    strokes, top = levels_only(moves(rough_turn(*rough.arguments()))), top_of(rough)
    boundary = boundary_of(rough)
    removed, stock = removed_by(rough.start, strokes, top), under(boundary, top)
    assert removed.difference(stock).area < 0.02
    raised = under([(z, x + rough.depth / MM) for z, x in boundary], top + rough.depth / MM)
    assert raised.intersection(box(-1000, 0, 1000, top)).difference(removed).area < 0.02


@FEW
@given(EVERY)
def test_no_rapid_leads_through_stock_or_part(rough: Rough) -> None:
    strokes, top = moves(rough_turn(*rough.arguments())), top_of(rough)
    # A bar that reaches neither beyond the start nor beyond the moved start, and goes on behind the contour.
    front, side = (min(v, v + a) / MM for v, a in ((rough.start.z, rough.allowance_z), (rough.start.x, 0)))
    behind = min(z for z, _ in boundary_of(rough)) - 10
    assert rapids_through(rough.start, strokes, box(behind, -1000, front, side), top) == []


@FEW
@given(EVERY)
def test_no_level_takes_more_than_the_depth_of_cut(rough: Rough) -> None:
    top = top_of(rough)
    removed = under([(-500.0, top), (500.0, top)], top)
    at = rough.start
    for stroke in moves(rough_turn(*rough.arguments())):
        if stroke.step.startswith("level") and stroke.kind.cuts and stroke.end.z != at.z:
            cut = removed_by(at, [stroke], top)
            fresh = cut.difference(removed).buffer(-0.001)
            if not fresh.is_empty:
                assert fresh.bounds[3] - min(stroke.end.x, at.x) / MM <= rough.depth / MM + 0.002
            removed = removed.union(cut)
        at = stroke.end


@FEW
@given(EVERY)
def test_the_cycle_ends_where_it_began_and_stays_behind_neither_end(rough: Rough) -> None:
    strokes = moves(rough_turn(*rough.arguments()))
    assert strokes[-1].end == rough.start
    deepest = min(s.end.z for s in rough.contour.segments) + rough.allowance_z
    front = max(rough.start.z, rough.start.z + rough.allowance_z)
    for stroke in strokes:
        assert stroke.end.z >= min(deepest, rough.start.z)
        assert stroke.end.z <= front or stroke.step.endswith(": retract")


@FEW
@given(EVERY, st.integers(-(10**10), 10**10), st.integers(-(10**10), 10**10))
def test_a_moved_cycle_makes_the_moved_strokes(rough: Rough, dx: int, dz: int) -> None:
    look, still = moved(dx, dz), moved(0, 0)
    there = rough_turn(*rough.under(look, still).arguments())
    assert there == look.expansion(rough_turn(*rough.arguments()))


@FEW
@given(EVERY)
def test_facing_is_turning_with_the_axes_exchanged(rough: Rough) -> None:
    there = rough_face(*rough.under(EXCHANGE).arguments())
    assert there == EXCHANGE.expansion(rough_turn(*rough.arguments()))


@FEW
@given(EVERY)
def test_a_bore_and_negative_x_are_the_outside_in_a_mirror(rough: Rough) -> None:
    there = rough_turn(*rough.under(MIRROR_X).arguments())
    assert there == MIRROR_X.expansion(rough_turn(*rough.arguments()))


@FEW
@given(EVERY)
def test_cutting_away_from_the_spindle_is_cutting_toward_it_in_a_mirror(rough: Rough) -> None:
    there = rough_turn(*rough.under(MIRROR_Z).arguments())
    assert there == MIRROR_Z.expansion(rough_turn(*rough.arguments()))


@FEW
@given(roughs(), st.integers(1, 20))
def test_levels_at_a_multiple_of_a_depth_are_levels_of_that_depth(rough: Rough, times: int) -> None:
    coarse = moves(rough_turn(*replace(rough, depth=rough.depth * times).arguments()))
    fine = moves(rough_turn(*rough.arguments()))
    ends = {s.end for s in fine if s.step.endswith(": cut")}
    assert all(s.end in ends for s in coarse if s.step.endswith(": cut"))


def lines(start: Point, *points: tuple[float, float], both: bool = False) -> Contour:
    """A contour of straight moves through (diameter, Z) in millimetres; the first is reached by rapid."""
    places = [start, *(Point(round(d * MM / 2), round(z * MM)) for d, z in points)]
    return Contour(
        tuple(
            Segment(Kind.FEED if n else Kind.RAPID, places[n], places[n + 1], 100 + n) for n in range(len(places) - 1)
        ),
        names_both_axes=both,
    )


START = Point(31 * MM, 2 * MM)
SHOULDER = lines(START, (40, 2), (40, -20), (62, -20))


def turn(
    contour: Contour, start: Point = START, depth: int = 2 * MM, retract: int = MM, pockets: bool = False
) -> Expansion:
    return rough_turn(start, contour, depth, retract, 0, 0, Kind.RAPID, pockets)


def test_a_bore_written_out() -> None:
    """Start inside at X18, bore X24 to Z-10, then X18: two levels outward."""
    start = Point(9 * MM, 2 * MM)
    contour = lines(start, (24, 2), (24, -10), (18, -10))
    strokes = moves(rough_turn(start, contour, 2 * MM, MM // 2, -MM // 5, MM // 10, Kind.FEED, False))
    told = [(s.kind.name, 2 * s.end.x / MM, s.end.z / MM) for s in strokes]
    assert told == [
        ("RAPID", 17.6, 2.1),
        ("FEED", 21.6, 2.1),
        ("FEED", 21.6, -9.9),
        ("RAPID", 20.6, -9.4),
        ("RAPID", 20.6, 2.1),
        ("FEED", 23.6, 2.1),
        ("FEED", 23.6, -9.9),
        ("RAPID", 22.6, -9.4),
        ("RAPID", 22.6, 2.1),
        ("RAPID", 23.6, 2.1),
        ("FEED", 23.6, -9.9),
        ("FEED", 17.6, -9.9),
        ("RAPID", 18.0, 2.0),
    ]


def test_steps_are_told_in_shop_words() -> None:
    steps = [s.step for s in moves(turn(SHOULDER))]
    assert steps[:4] == ["level 1 of 6: infeed", "level 1 of 6: cut", "level 1 of 6: retract", "level 1 of 6: back"]
    assert steps[-3:] == ["pass along the boundary", "pass along the boundary", "return to start"]


def test_the_pass_along_the_boundary_names_the_blocks_of_the_contour() -> None:
    strokes = moves(turn(SHOULDER))
    assert [s.block for s in strokes if s.block is not None] == [100, 101, 102]


def test_a_pocket_is_cut_level_by_level_and_its_walls_followed() -> None:
    """X50 with a pocket to X40 between Z-10 and Z-20, walls of 45 degrees; depth 3, retract 0.5."""
    start = Point(26 * MM, 2 * MM)
    contour = lines(start, (50, 2), (50, -10), (40, -15), (40, -20), (50, -25), (50, -30), both=True)
    strokes = moves(rough_turn(start, contour, 3 * MM, MM // 2, 0, 0, Kind.RAPID, True))
    told = [(s.step, s.kind.name, 2 * s.end.x / MM, s.end.z / MM) for s in strokes]
    assert told[:14] == [
        ("level 1 of 2: infeed", "RAPID", 50.0, 2.0),
        ("level 1 of 2: along the contour", "FEED", 50.0, -10.0),
        ("level 1 of 2: along the contour", "FEED", 46.0, -12.0),
        ("level 1 of 2: cut", "FEED", 46.0, -23.0),
        ("level 1 of 2: along the contour", "FEED", 50.0, -25.0),
        ("level 1 of 2: along the contour", "FEED", 50.0, -30.0),
        ("level 1 of 2: retract", "RAPID", 51.0, -29.5),
        ("level 1 of 2: back", "RAPID", 51.0, 2.0),
        ("level 2 of 2: clear in depth", "RAPID", 52.0, 2.0),
        ("level 2 of 2: above its wall", "RAPID", 52.0, -12.0),
        ("level 2 of 2: infeed", "RAPID", 46.0, -12.0),
        ("level 2 of 2: along the contour", "FEED", 40.0, -15.0),
        ("level 2 of 2: cut", "FEED", 40.0, -20.0),
        ("level 2 of 2: along the contour", "FEED", 46.0, -23.0),
    ]

    assert told[14:18] == [
        ("level 2 of 2: retract", "RAPID", 47.0, -22.5),
        ("level 2 of 2: clear in depth", "RAPID", 52.0, -22.5),
        ("back to the front", "RAPID", 52.0, 2.0),
        ("pass along the boundary: to its first point", "RAPID", 50.0, 2.0),
    ]


def test_a_plateau_at_a_level_parts_two_pockets() -> None:
    """The hump between the pockets is as high as the first level: below it they are cut one after the other."""
    start = Point(30 * MM, 2 * MM)
    contour = lines(start, (60, 2), (50, -5), (56, -10), (56, -15), (50, -20), (60, -30), both=True)
    strokes = moves(rough_turn(start, contour, 2 * MM, MM, 0, 0, Kind.RAPID, True))
    cuts = [(s.step, s.end.x / MM * 2, s.end.z / MM) for s in strokes if s.step.endswith(": cut")]
    assert cuts == [
        ("level 1 of 3: cut", 56.0, -26.0),
        ("level 2 of 3, opening 1 of 2: cut", 52.0, -6.66666666),
        ("level 2 of 3, opening 2 of 2: cut", 52.0, -22.0),
    ]


def test_a_contour_that_ends_down_in_the_bar_is_left_at_45_degrees() -> None:
    """A plain cylinder without a shoulder, both axes named."""
    start = Point(30 * MM, 2 * MM)
    strokes = moves(rough_turn(start, lines(start, (56, 2), (56, -20), both=True), 2 * MM, MM, 0, 0, Kind.RAPID, True))
    assert [(s.kind.name, 2 * s.end.x / MM, s.end.z / MM) for s in strokes][:4] == [
        ("RAPID", 56.0, 2.0),
        ("FEED", 56.0, -20.0),
        ("RAPID", 58.0, -19.0),
        ("RAPID", 58.0, 2.0),
    ]


def test_naming_both_axes_decides_between_the_two_forms() -> None:
    points = ((50, 2), (50, -10), (40, -15), (40, -20), (50, -25), (50, -30))
    both, one = lines(START, *points, both=True), lines(START, *points)
    assert code_of(turn(one, pockets=True)) == "contour-with-pocket"
    assert code_of(turn(both, pockets=False)) == "contour-with-pocket"
    assert not isinstance(turn(both, pockets=True), CycleFault)


def test_a_contour_may_end_beyond_the_start_in_depth() -> None:
    """Common in shop programs: the contour's last move leaves the stock. Levels begin at the start all the same."""
    strokes = moves(turn(lines(START, (40, 2), (40, -20), (70, -20))))
    assert next(s.end.x for s in strokes if s.step.endswith("infeed")) == 29 * MM
    assert max(s.end.x for s in strokes) == 35 * MM


def test_a_level_on_a_cylinder_cuts_the_whole_cylinder() -> None:
    strokes = moves(turn(lines(START, (40, 2), (40, -20), (54, -20), (54, -40), (62, -40)), depth=2 * MM))
    cuts = {s.end.x: s.end.z for s in strokes if s.step.endswith(": cut")}
    assert cuts[27 * MM] == -40 * MM
    assert cuts[25 * MM] == -20 * MM


def test_an_arc_end_that_is_a_rounding_past_its_quadrant_is_no_pocket() -> None:
    start = Point(25 * MM, 2 * MM)
    first, end = Point(10 * MM, 2 * MM), Point(20 * MM, -8 * MM - 1000)
    segments = (
        Segment(Kind.RAPID, start, first, 1),
        Segment(Kind.ARC_CCW, first, end, 2, Point(10 * MM, -8 * MM)),
        Segment(Kind.FEED, end, Point(25 * MM, -8 * MM - 1000), 3),
    )
    assert not isinstance(turn(Contour(segments, False), start), CycleFault)


@pytest.mark.parametrize(
    ("contour", "code"),
    [
        (lines(START, (40, 2)), "contour-too-short"),
        (lines(START, (40, 2), (50, 2)), "contour-without-travel"),
        (lines(START, (40, 2), (40, -20), (50, -15), (62, -30)), "contour-turns-back"),
        (lines(START, (40, 2), (40, -20), (62, -20), (62, 2)), "contour-turns-back"),
        (lines(START, (40, 2), (40, -20), (38, -25), (62, -30)), "contour-with-pocket"),
        (lines(START, (40, 5), (40, -20), (62, -20)), "start-inside-contour"),
    ],
)
def test_a_contour_that_cannot_be_roughed_is_named(contour: Contour, code: str) -> None:
    assert code_of(turn(contour)) == code


def test_a_start_inside_the_part_is_named() -> None:
    """An outside contour (stock at larger X by its allowance) with the start below it."""
    start = Point(MM, 2 * MM)
    contour = lines(start, (40, 2), (40, -20), (62, -20))
    assert code_of(rough_turn(start, contour, MM, MM, MM // 5, 0, Kind.RAPID, False)) == "start-inside-contour"


def test_a_hump_higher_than_the_start_between_pockets_is_named() -> None:
    contour = lines(START, (40, 2), (40, -5), (70, -10), (50, -20), (62, -30), both=True)
    assert code_of(turn(contour, pockets=True)) == "start-inside-contour"


@pytest.mark.parametrize(("depth", "retract", "code"), [(0, 0, "depth-not-positive"), (MM, -1, "amount-negative")])
def test_amounts_that_make_no_sense_are_named(depth: int, retract: int, code: str) -> None:
    assert code_of(turn(SHOULDER, depth=depth, retract=retract)) == code


def test_a_thread_in_the_contour_is_named() -> None:
    segments = (*SHOULDER.segments[:2], replace(SHOULDER.segments[2], kind=Kind.THREAD))
    assert code_of(turn(Contour(segments, False))) == "contour-kind"


@pytest.mark.parametrize("pockets", [False, True])
def test_a_depth_too_small_is_named_without_expanding(pockets: bool) -> None:
    contour = replace(SHOULDER, names_both_axes=pockets)
    assert code_of(turn(contour, depth=10, pockets=pockets)) == "too-many-strokes"
    strokes = moves(turn(contour, depth=11 * MM // 20_000, pockets=pockets))
    assert len(strokes) <= STROKE_LIMIT


def test_many_pockets_are_counted_before_they_are_expanded() -> None:
    """Thirty pockets of 1 mm in 2,000 levels would be some 360,000 strokes."""
    zigzag = [(40 + 2 * (n % 2), -n) for n in range(61)]
    contour = lines(Point(22 * MM, 2 * MM), (42, 2), *zigzag, (42, -62), both=True)
    assert code_of(turn(contour, Point(22 * MM, 2 * MM), 2 * MM // 2000, pockets=True)) == "too-many-strokes"
    strokes = moves(turn(contour, Point(22 * MM, 2 * MM), 2 * MM // 200, pockets=True))
    assert 10_000 < len(strokes) <= STROKE_LIMIT


def test_a_long_contour_in_many_levels_is_expanded_or_named_without_waiting() -> None:
    """20,000 blocks at the foot of a deep cut, 10,000 levels: rising it is done, with pockets it is named."""
    points = [(20 + n * 2 / 10_000, -n / 1000) for n in range(20_000)]
    start = Point(60 * MM, 2 * MM)
    rising, both = (lines(start, (20, 2), *points, both=b) for b in (False, True))
    assert len(moves(turn(rising, start, 50 * MM // 10_000))) > 40_000
    assert code_of(turn(both, start, 50 * MM // 10_000, pockets=True)) == "too-many-strokes"


@FEW
@given(EVERY, st.integers(1, 40))
def test_no_expansion_is_longer_than_was_counted_before(rough: Rough, share: int) -> None:
    expansion = rough_turn(*replace(rough, depth=share * HUNDREDTH).arguments())
    assert isinstance(expansion, CycleFault) or len(expansion) <= STROKE_LIMIT


NUMBERS = st.integers(-20, 20).map(lambda v: v * MM)
ANYWHERE = st.builds(Point, NUMBERS, NUMBERS)


@st.composite
def anything(draw: st.DrawFn) -> Contour:
    """Moves of any kind through any places, arcs with centres that may not fit."""
    at, segments = draw(ANYWHERE), []
    for number in range(draw(st.integers(0, 6))):
        kind, end = draw(st.sampled_from(list(Kind))), draw(ANYWHERE)
        segments.append(Segment(kind, at, end, number, draw(ANYWHERE) if kind.arc else None))
        at = end
    return Contour(tuple(segments), draw(st.booleans()))


@settings(max_examples=300, deadline=None)
@given(ANYWHERE, anything(), NUMBERS, NUMBERS, NUMBERS, st.booleans(), st.booleans())
def test_any_contour_is_expanded_or_named_and_comes_home(
    start: Point, contour: Contour, depth: int, x: int, z: int, facing: bool, pockets: bool
) -> None:
    cycle = rough_face if facing else rough_turn
    expansion = cycle(start, contour, depth, abs(x) // 9, x, z, Kind.RAPID, pockets)
    if not isinstance(expansion, CycleFault):
        assert not expansion or moves(expansion)[-1].end == start
