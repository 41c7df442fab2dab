"""Laws of the offset by a nose circle, over contours made at random; distances by a polygon library (shapely)."""

from __future__ import annotations

from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point

from tests.control.compensation.chains import LEFT, MM, RIGHT, To, drawn, legs, offset, point
from verifier.control.compensation import DIRECTIONS, Leg, Offset, Role, Tip, Ways, Wrong, compensate
from verifier.control.strokes import Kind

_TICK = 1.5
"""Both coordinates of a place are rounded to a whole tick: it lies off by 0.71 of one at most."""


def steps(seed: int, *, falls: bool, arcs: bool) -> list[To]:
    """A contour that goes on toward -Z: tapers, cylinders, walls, with falls into pockets or without, and tangent arcs where asked for."""
    random = Random(seed)
    z, x = 0.0, 10.0
    made = [To(8, 16), To(3, x), To(z, x)]
    for _ in range(random.randrange(3, 9)):
        kind = random.choice(("taper", "cylinder", "wall", *(("arc",) if arcs else ())))
        up = -1 if falls and x > 6 and random.random() < 0.4 else 1
        if kind == "arc":
            radius = random.randrange(300, 4000) / 1000
            inside = random.random() < 0.5
            # A quarter circle from going along -Z to going along X, or from going along X to going along -Z.
            if inside:
                made.append(To(round(z - radius, 3), round(x + radius, 3), -1, z, round(x + radius, 3)))
            else:
                made.append(To(round(z - radius, 3), round(x + radius, 3), 1, round(z - radius, 3), x))
            z, x = made[-1].z, made[-1].x
            continue
        dz = 0 if kind == "wall" else random.randrange(50, 6000) / 1000
        dx = 0 if kind == "cylinder" else up * random.randrange(50, 4000) / 1000
        z, x = round(z - dz, 3), round(x + dx, 3)
        made.append(To(z, x))
    made.append(To(z - 3, x + 12))
    return made


def contours(*, falls: bool = False, arcs: bool = False) -> st.SearchStrategy[list[To]]:
    return st.builds(lambda seed: steps(seed, falls=falls, arcs=arcs), st.integers(0, 2**32 - 1))


LAW = settings(deadline=None)
"""No law is about time."""
RADII = st.sampled_from((0.1, 0.2, 0.397, 0.4, 0.8, 1.2, 2.4))


def path_of(found: Offset, first: int = 1, last: int = -1, step: float = 0.2) -> list[tuple[float, float]]:
    """The nose centre along the contour legs, as points in ticks."""
    pieces = [(p.kind, p.end, p.centre) for leg in found.pieces[first:last] for p in leg]
    return drawn(found.pieces[first - 1][-1].end, pieces, step)


def edge_of(points: list[To], step: float = 0.2) -> list[tuple[float, float]]:
    chain = legs(points, RIGHT)
    return drawn(chain[1].start, [(leg.kind, leg.end, leg.centre) for leg in chain[1:-1]], step)


@LAW
@given(contours(falls=True), RADII)
def test_the_nose_never_comes_nearer_than_its_radius_or_it_is_told(points: list[To], radius: float) -> None:
    found = offset(points, radius, ways=Ways())
    distance = LineString(path_of(found)).distance(LineString(edge_of(points)))
    if found.troubles:
        cuts = [t for t in found.troubles if t.wrong in (Wrong.CUTS, Wrong.PASSES)]
        assert not cuts or distance < radius * MM
    else:
        assert distance >= radius * MM - _TICK


@LAW
@given(contours(falls=True, arcs=True), RADII)
def test_with_arcs_too(points: list[To], radius: float) -> None:
    """Arcs are drawn by chords here, which lie inside by up to radius x 4e-7 at this step."""
    found = offset(points, radius, ways=Ways())
    if not found.troubles:
        distance = LineString(path_of(found, step=0.1)).distance(LineString(edge_of(points, step=0.1)))
        assert distance >= radius * MM - 8 * MM * 4e-7 - _TICK


@LAW
@given(contours(falls=True), RADII)
def test_the_nose_touches_every_line_of_the_contour_that_it_follows(points: list[To], radius: float) -> None:
    """With corners rounded: on straight lines round a corner the nose may pass a step lower than its radius without touching it."""
    found = offset(points, radius, ways=Ways(arc_corners=True))
    if found.troubles:
        return
    line = LineString(path_of(found, step=0.01))
    for leg in legs(points, RIGHT)[1:-1]:
        edge = LineString([(leg.start.z, leg.start.x), (leg.end.z, leg.end.x)])
        assert line.distance(edge) == pytest.approx(radius * MM, abs=_TICK + radius * MM * 1e-8)


def backwards(chain: list[Leg]) -> list[Leg]:
    """The contour of a chain from its end to its start, with an entry before it and an exit behind it, on the other side."""
    turned = {Kind.ARC_CW: Kind.ARC_CCW, Kind.ARC_CCW: Kind.ARC_CW}
    contour = [
        Leg(turned.get(leg.kind, leg.kind), leg.end, leg.start, leg.centre, Role.CONTOUR, -leg.side)
        for leg in reversed(chain[1:-1])
    ]
    return [
        Leg(Kind.FEED, chain[-1].end, chain[-1].start, None, Role.ENTRY, -chain[-1].side),
        *contour,
        Leg(Kind.FEED, chain[1].start, chain[0].start, None, Role.EXIT, -chain[0].side),
    ]


@LAW
@given(contours(falls=True, arcs=True), RADII, st.booleans())
def test_the_way_back_on_the_other_side_is_the_same_curve(points: list[To], radius: float, rounded: bool) -> None:
    chain, tip, ways = legs(points, RIGHT), Tip(round(radius * MM), 0, 0), Ways(arc_corners=rounded)
    there, back = compensate(chain, tip, ways), compensate(backwards(chain), tip, ways)
    assert bool(there.troubles) == bool(back.troubles)
    if there.troubles:
        return
    ends = [[(p.end.z, p.end.x) for leg in found.pieces[:-1] for p in leg] for found in (there, back)]
    assert len(ends[0]) == len(ends[1])
    for one, other in zip(ends[0], reversed(ends[1]), strict=True):
        assert one == pytest.approx(other, abs=1)


@LAW
@given(contours(falls=True, arcs=True), RADII, st.integers(0, 9))
def test_the_direction_of_the_tip_only_moves_the_whole_path(points: list[To], radius: float, orientation: int) -> None:
    centre = offset(points, radius)
    tip = offset(points, radius, orientation=orientation)
    away = round(radius * MM)
    x, z = (k * away for k in DIRECTIONS[orientation])
    assert tip.troubles == centre.troubles
    for one, other in zip(centre.pieces[:-1], tip.pieces[:-1], strict=True):
        for a, b in zip(one, other, strict=True):
            assert (a.kind, a.end.x + x, a.end.z + z) == (b.kind, b.end.x, b.end.z)
            assert (a.centre is None) == (b.centre is None)
            assert a.centre is None or (
                b.centre is not None and (a.centre.x + x, a.centre.z + z) == (b.centre.x, b.centre.z)
            )
    assert centre.pieces[-1][-1].end == tip.pieces[-1][-1].end == point(points[-1].z, points[-1].x)


@LAW
@given(contours(falls=True, arcs=True))
def test_a_radius_of_zero_is_the_programmed_path(points: list[To]) -> None:
    chain = legs(points, RIGHT)
    found = compensate(chain, Tip(0, 1, 1), Ways())
    assert [[(p.kind, p.end, p.centre) for p in leg] for leg in found.pieces] == [
        [(leg.kind, leg.end, leg.centre)] for leg in chain
    ]


@LAW
@given(contours(falls=True, arcs=True), RADII)
def test_a_tiny_radius_stays_that_near_to_the_programmed_path(points: list[To], radius: float) -> None:
    """Continuity: the path goes to the programmed one as the radius goes to nothing (corners reach out to root 2 times the radius)."""
    tiny = radius / 1000
    found = offset(points, tiny)
    if found.troubles:
        return
    edge = LineString(edge_of(points, step=0.05))
    assert max(Point(p).distance(edge) for p in path_of(found, step=0.05)) <= 1.415 * tiny * MM + 4 * MM * 1e-7 + _TICK


@LAW
@given(contours(arcs=True), RADII, st.integers(0, 6), st.integers(2, 8))
def test_a_line_in_two_pieces_is_the_same_curve_or_told(
    points: list[To], radius: float, which: int, tenths: int
) -> None:
    """A piece that a corner behind it takes away wholly is told: a control that looks only one move ahead cuts there, or stops."""
    straight = [k for k in range(2, len(points) - 1) if not points[k].sense]
    k = straight[which % len(straight)]
    here, there = points[k - 1], points[k]
    # Tenths of a way in thousandths, so that the point lies exactly on the line.
    middle = To(here.z + (there.z - here.z) * tenths / 10, here.x + (there.x - here.x) * tenths / 10)
    whole, split = offset(points, radius), offset([*points[:k], middle, *points[k:]], radius)
    if whole.troubles:
        assert split.troubles
    elif split.troubles:
        assert {t.wrong for t in split.troubles} <= {Wrong.GONE, Wrong.CUTS}
        assert {t.leg for t in split.troubles} <= {k - 1, k, k + 1}
    else:
        lines = [LineString(path_of(found)) for found in (whole, split)]
        assert lines[0].hausdorff_distance(lines[1]) <= 3


@LAW
@given(contours(falls=True, arcs=True), RADII)
def test_left_seen_in_a_mirror_is_right(points: list[To], radius: float) -> None:
    mirrored = [p._replace(z=-p.z, sense=-p.sense, centre_z=-p.centre_z) for p in points]
    right, left = offset(points, radius, RIGHT), offset(mirrored, radius, LEFT)
    assert [t.wrong for t in right.troubles] == [t.wrong for t in left.troubles]
    for one, other in zip(right.pieces, left.pieces, strict=True):
        assert [(p.end.x, -p.end.z) for p in one] == [(p.end.x, p.end.z) for p in other]


def test_the_contours_reach_all_that_the_laws_are_about() -> None:
    """Without this the laws above could hold because nothing ever fits, or everything does."""
    found = [offset(steps(seed, falls=True, arcs=True), 0.8) for seed in range(200)]
    fits = sum(not one.troubles for one in found)
    assert 40 < fits < 180
    assert {t.wrong for one in found for t in one.troubles} >= {Wrong.CUTS, Wrong.TIGHT}
    assert any(one.outer for one in found) and any(len(leg) > 1 for one in found for leg in one.pieces)
