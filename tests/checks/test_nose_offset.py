"""The offset of a path by a nose circle, against published programs and tables and against a polygon library; the source stands beside each check."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from shapely.geometry import LineString, Polygon

from tests.control.compensation.chains import LEFT, MM, RIGHT, To, drawn, ends, offset, point
from verifier.control.compensation import DIRECTIONS, Ways, Wrong
from verifier.control.strokes import Kind

# NISTIR 6556 (Kramer, Proctor, Messina, 2000), tables 12 and 13: the edge of a part, and the nominal path of a tool of diameter 1 about it.
# The plane is X and Y there: its X stands for Z here, its Y for X.
TABLE_12 = [
    To(1, 5), To(1, 4), To(2, 3, 1, 2, 4), To(3, 2, -1, 2, 2), To(3, -1), To(2, -2, -1, 2, -1), To(-2, -2),
    To(-2.6, -0.2, -1, -2, -1), To(1.4, 2.8), To(2, 3, -1, 2, 2),
]  # fmt: skip
TABLE_13 = [(2, 3.5), (3.5, 2), (3.5, -1), (2, -2.5), (-2, -2.5), (-2.9, 0.2), (1.1, 3.2), (2, 3.5)]


def length(path: list[tuple[float, float]]) -> float:
    return sum(math.dist(a, b) for a, b in pairwise(path))


def test_table_12_of_nistir_6556_offset_by_the_tool_radius_is_table_13() -> None:
    found = offset(TABLE_12, 0.5, LEFT, leave=False)
    assert {t.wrong for t in found.troubles} == {Wrong.PASSES}, (
        "the closed contour passes the entry arc, which lies in the air"
    )
    assert [leg[-1] for leg in ends(found)[1:]] == [pytest.approx(p, abs=1e-7) for p in TABLE_13]
    assert all(len(leg) == 1 for leg in found.pieces), (
        "the contour is tangent throughout: no corner needs a move of its own"
    )


def test_the_arcs_of_table_12_keep_their_centres() -> None:
    found = offset(TABLE_12, 0.5, LEFT, leave=False)
    for leg, programmed in zip(found.pieces[1:], TABLE_12[2:], strict=True):
        expected = point(programmed.centre_z, programmed.centre_x) if programmed.sense else None
        assert leg[-1].centre == expected


def test_a_closed_offset_is_longer_by_the_circumference_of_the_tool() -> None:
    """Table 12 closes at X2 Y3: 12 + 2 pi long; about it by 0.5 the path is longer by 2 pi 0.5 (plane geometry)."""
    closed = [TABLE_12[1], *TABLE_12[2:]]
    edge = offset(closed, 0, LEFT, leave=False)
    path = offset(closed, 0.5, LEFT, leave=False)
    lengths = []
    for found in (edge, path):
        start = found.pieces[0][-1].end
        line = drawn(start, [(p.kind, p.end, p.centre) for leg in found.pieces[1:] for p in leg], 0.01)
        lengths.append(length(line) / MM)
    assert lengths[0] == pytest.approx(12 + 2 * math.pi, abs=1e-6)
    assert lengths[1] == pytest.approx(21.424777961, abs=1e-6)


def test_the_same_contour_by_a_polygon_library() -> None:
    """Against shapely (GEOS) buffers the polygon of table 12; the boundaries agree to the chords' error."""
    edge = offset(TABLE_12, 0, LEFT, leave=False)
    start = edge.pieces[1][-1].end
    ring = drawn(start, [(p.kind, p.end, p.centre) for leg in edge.pieces[2:] for p in leg], 0.1)
    buffered = Polygon(ring).buffer(0.5 * MM, quad_segs=900)
    found = offset(TABLE_12, 0.5, LEFT, leave=False)
    path = LineString(
        drawn(found.pieces[1][-1].end, [(p.kind, p.end, p.centre) for leg in found.pieces[2:] for p in leg], 0.1)
    )
    assert path.hausdorff_distance(buffered.exterior) < 1e-5 * MM


SQUARE = [(0.0, 0.0), (30.0, 0.0), (30.0, 20.0), (0.0, 20.0)]
NOTCHED = [(0.0, 0.0), (30.0, 0.0), (30.0, 20.0), (20.0, 12.0), (12.0, 12.0), (10.0, 20.0), (0.0, 20.0)]
STAR = [(0.0, 0.0), (10.0, 4.0), (20.0, 0.0), (17.0, 10.0), (20.0, 20.0), (10.0, 16.0), (0.0, 20.0), (3.0, 10.0)]


@pytest.mark.parametrize("corners", [SQUARE, NOTCHED, STAR], ids=["convex", "notched", "star"])
@pytest.mark.parametrize("radius", [0.2, 0.4, 0.8, 1.6])
@pytest.mark.parametrize("rounded", [True, False], ids=["round corners", "straight corners"])
@pytest.mark.parametrize("side", [LEFT, RIGHT])
def test_polygons_by_a_polygon_library(
    corners: list[tuple[float, float]], radius: float, rounded: bool, side: int
) -> None:
    """Against shapely (GEOS): buffer outside, both ways round; round joins, or joins mitred and cut off one nose radius out."""
    way = corners if side == RIGHT else corners[::-1]
    middle = ((way[0][0] + way[1][0]) / 2, (way[0][1] + way[1][1]) / 2)
    round_trip = [To(15, 40), To(*middle), *(To(*p) for p in way[1:]), To(*way[0]), To(*middle)]
    found = offset(round_trip, radius, side, leave=False, entry=True, ways=Ways(arc_corners=rounded))
    assert found.troubles == ()
    pieces = [(p.kind, p.end, p.centre) for leg in found.pieces[1:] for p in leg]
    path = Polygon(drawn(found.pieces[0][-1].end, pieces))
    edge = Polygon([(z * MM, x * MM) for z, x in corners])
    expected = edge.buffer(radius * MM, quad_segs=900) if rounded else _straight_cornered(edge, radius * MM)
    assert path.symmetric_difference(expected).area < 1e-6 * expected.area


def _straight_cornered(edge: Polygon, radius: float) -> Polygon:
    """The round buffer with each convex corner filled: the mitre, or beyond a quarter turn the quadrilateral one radius beyond both edges."""
    points = list(edge.exterior.coords)[:-1]
    whole = edge.buffer(radius, quad_segs=900)
    if not edge.exterior.is_ccw:
        points = points[::-1]
    for k, (z, x) in enumerate(points):
        before, after = points[k - 1], points[(k + 1) % len(points)]
        one, other = _unit((z - before[0], x - before[1])), _unit((after[0] - z, after[1] - x))
        turn = one[0] * other[1] - one[1] * other[0]
        if turn <= 0:
            continue
        begin = (z + one[1] * radius, x - one[0] * radius)
        end = (z + other[1] * radius, x - other[0] * radius)
        along = one[0] * other[0] + one[1] * other[1]
        reach = radius if along < 0 else radius * math.tan(math.acos(along) / 2)
        tips = [
            (begin[0] + one[0] * reach, begin[1] + one[1] * reach),
            (end[0] - other[0] * reach, end[1] - other[1] * reach),
        ]
        whole = whole.union(Polygon([(z, x), begin, *tips, end]).buffer(radius * 1e-9))
    return whole


def _unit(way: tuple[float, float]) -> tuple[float, float]:
    far = math.hypot(*way)
    return way[0] / far, way[1] / far


ROUNDED = [
    To(12, 10), To(6, 10), To(0, 10), To(-4, 14, -1, 0, 14), To(-4, 16), To(-7, 19, 1, -7, 16), To(-12, 19), To(-16, 24),
    To(-24, 24), To(-24, 30),
]  # fmt: skip


@pytest.mark.parametrize("radius", [0.4, 0.8, 1.2])
def test_a_contour_with_fillets_and_rounds_by_a_polygon_library(radius: float) -> None:
    """Against shapely (GEOS): the one-sided buffer's far boundary is where the path runs, to the chords' error; straight corners stand outside it."""
    found = offset(ROUNDED, radius, RIGHT, leave=False, ways=Ways(arc_corners=True))
    assert found.troubles == ()
    edge = offset(ROUNDED, 0, RIGHT, leave=False)
    line = LineString(
        drawn(edge.pieces[0][-1].end, [(p.kind, p.end, p.centre) for leg in edge.pieces[1:] for p in leg])
    )
    path = drawn(found.pieces[0][-1].end, [(p.kind, p.end, p.centre) for leg in found.pieces[1:] for p in leg])
    boundary = line.buffer(radius * MM, quad_segs=900, cap_style="flat").exterior
    assert max(boundary.distance(LineString([a, b]).interpolate(0.5)) for a, b in pairwise(path)) < 1e-4 * MM


# Offsets without compensation of a tip that is virtual and sharp, front of an outside diameter; A is the angle of the surface to the Z axis.
# Published nose radius tables: Z shift r (1 - tan(A/2)), X shift on the radius r (1 - tan((90-A)/2)); the normal error is plane geometry.
SHIFTS = {
    5: (0.95634, 0.08367, 0.08335),
    10: (0.91251, 0.16090, 0.15846),
    15: (0.86835, 0.23267, 0.22474),
    20: (0.82367, 0.29979, 0.28171),
    30: (0.73205, 0.42265, 0.36603),
    45: (0.58579, 0.58579, 0.41421),
    60: (0.42265, 0.73205, 0.36603),
    75: (0.23267, 0.86835, 0.22474),
}


def _taper(angle: int) -> list[To]:
    """From the front: a face up to a taper, the taper, a cylinder behind it, all turned with the nose above and in front (direction 3)."""
    rise = 6 * math.tan(math.radians(angle))
    return [To(2, 4), To(0, 5), To(0, 10), To(-6, 10 + rise), To(-14, 10 + rise), To(-14, 40)]


@pytest.mark.parametrize("angle", SHIFTS)
def test_tapers_are_shifted_as_the_published_tables_say(angle: int) -> None:
    shift_z, shift_x, _ = SHIFTS[angle]
    radius = 0.8
    programmed = _taper(angle)
    found = ends(offset(programmed, radius, RIGHT, orientation=3))
    at_face, at_cylinder = found[1][-1], found[2][-1]
    assert (programmed[2].x - at_face[1]) / radius == pytest.approx(shift_x, abs=1e-5)
    assert at_face[0] == pytest.approx(0, abs=1e-8)
    assert (programmed[3].z - at_cylinder[0]) / radius == pytest.approx(shift_z, abs=1e-5)
    assert at_cylinder[1] == pytest.approx(programmed[3].x, abs=1e-7)


@pytest.mark.parametrize("angle", SHIFTS)
@pytest.mark.parametrize("orientation", [3, 8, 7, 9])
def test_the_error_normal_to_a_taper_is_gone_with_compensation(angle: int, orientation: int) -> None:
    """Without compensation the nose stays off the taper by r (sin A + cos A - 1) (direction 3, plane geometry); with it, it touches."""
    radius, (_, _, error) = 0.8, SHIFTS[angle]
    programmed = _taper(angle)
    (z0, x0), (z1, x1) = (programmed[2].z, programmed[2].x), (programmed[3].z, programmed[3].x)
    unit = _unit((z1 - z0, x1 - x0))

    def off(tip_z: float, tip_x: float, direction: tuple[int, int]) -> float:
        centre = (tip_z - radius * direction[1], tip_x - radius * direction[0])
        return -(unit[0] * (centre[1] - x0) - unit[1] * (centre[0] - z0)) - radius

    assert off(z0, x0, DIRECTIONS[3]) / radius == pytest.approx(error, abs=1e-5)
    found = ends(offset(programmed, radius, RIGHT, orientation=orientation))
    for tip in (found[1][-1], found[2][-1]):
        assert off(*tip, DIRECTIONS[orientation]) == pytest.approx(0, abs=1e-7)


# Directions of the virtual tip seen from the nose centre, as (X, Z): common practice, no source.
TIPS = {
    1: (1, 1),
    2: (1, -1),
    3: (-1, -1),
    4: (-1, 1),
    5: (0, 1),
    6: (1, 0),
    7: (0, -1),
    8: (-1, 0),
    0: (0, 0),
    9: (0, 0),
}


@pytest.mark.parametrize("orientation", TIPS)
def test_the_programmed_tip_lies_from_the_nose_centre_as_the_direction_numbers_say(orientation: int) -> None:
    x, z = TIPS[orientation]
    tips = [p for leg in ends(offset(ROUNDED, 0.8, orientation=orientation, leave=False)) for p in leg]
    centres = [p for leg in ends(offset(ROUNDED, 0.8, leave=False)) for p in leg]
    for tip, centre in zip(tips, centres, strict=True):
        assert tip == pytest.approx((centre[0] + 0.8 * z, centre[1] + 0.8 * x), abs=1e-8)


def test_arcs_become_arcs_of_the_radius_with_and_less_the_nose() -> None:
    """Convex on the part: radius + r; concave: radius - r (common practice, no source)."""
    found = offset(ROUNDED, 0.8, leave=False)
    fillet, turned = found.pieces[2][-1], found.pieces[4][-1]
    for arc, expected in ((fillet, 4 - 0.8), (turned, 3 + 0.8)):
        assert arc.kind in (Kind.ARC_CW, Kind.ARC_CCW) and arc.centre is not None
        assert math.hypot(arc.end.x - arc.centre.x, arc.end.z - arc.centre.z) / MM == pytest.approx(expected, abs=1e-7)
