"""Contours to draw from, mirrors written without the code under test, and what a path removes (by shapely)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import atan2, cos, hypot, pi, sin

from hypothesis import settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from verifier.control.strokes import Contour, CycleFault, Expansion, Kind, Pause, Point, Segment, Stroke

MM = 100_000_000
HUNDREDTH = MM // 100

CALM = settings(deadline=None)
"""Other work on the same cores must not make a property fail."""

Place = Callable[[Point], Point]


def moves(expansion: Expansion) -> list[Stroke]:
    assert not isinstance(expansion, CycleFault), expansion
    return [stroke for stroke in expansion if isinstance(stroke, Stroke)]


def code_of(expansion: Expansion) -> str:
    assert isinstance(expansion, CycleFault), "expected a fault"
    return expansion.code


def mapped_kind(kind: Kind, turns: bool) -> Kind:
    if turns and kind is Kind.ARC_CW:
        return Kind.ARC_CCW
    if turns and kind is Kind.ARC_CCW:
        return Kind.ARC_CW
    return kind


@dataclass(frozen=True)
class Look:
    """A way to place points elsewhere, and whether clockwise turns into counter-clockwise by it."""

    place: Place
    turns: bool

    def stroke(self, stroke: Stroke | Pause) -> Stroke | Pause:
        if isinstance(stroke, Pause):
            return stroke
        centre = None if stroke.centre is None else self.place(stroke.centre)
        return replace(stroke, kind=mapped_kind(stroke.kind, self.turns), end=self.place(stroke.end), centre=centre)

    def expansion(self, expansion: Expansion) -> Expansion:
        return expansion if isinstance(expansion, CycleFault) else tuple(self.stroke(s) for s in expansion)

    def contour(self, contour: Contour) -> Contour:
        return replace(contour, segments=tuple(self.segment(s) for s in contour.segments))

    def segment(self, segment: Segment) -> Segment:
        centre = None if segment.centre is None else self.place(segment.centre)
        return Segment(
            mapped_kind(segment.kind, self.turns),
            self.place(segment.start),
            self.place(segment.end),
            segment.block,
            centre,
        )


MIRROR_X = Look(lambda p: Point(-p.x, p.z), turns=True)
MIRROR_Z = Look(lambda p: Point(p.x, -p.z), turns=True)
EXCHANGE = Look(lambda p: Point(p.z, p.x), turns=True)


def moved(dx: int, dz: int) -> Look:
    return Look(lambda p: Point(p.x + dx, p.z + dz), turns=False)


@dataclass(frozen=True)
class Rough:
    """The numbers of one roughing cycle."""

    start: Point
    contour: Contour
    depth: int
    retract: int
    allowance_x: int
    allowance_z: int
    infeed: Kind
    pockets: bool

    def under(self, look: Look, allowance_look: Look | None = None) -> Rough:
        allowance = (allowance_look or look).place(Point(self.allowance_x, self.allowance_z))
        return replace(
            self,
            start=look.place(self.start),
            contour=look.contour(self.contour),
            allowance_x=allowance.x,
            allowance_z=allowance.z,
        )

    def arguments(self) -> tuple[Point, Contour, int, int, int, int, Kind, bool]:
        return (
            self.start,
            self.contour,
            self.depth,
            self.retract,
            self.allowance_x,
            self.allowance_z,
            self.infeed,
            self.pockets,
        )


def _steps(rising_only: bool) -> st.SearchStrategy[tuple[str, int, int]]:
    length = st.integers(min_value=1, max_value=900)
    rising = [
        st.tuples(st.just("line"), st.just(0), length),
        st.tuples(st.just("line"), length, st.just(0)),
        st.tuples(st.just("line"), length, length),
        st.tuples(st.just("fillet"), length, st.just(0)),
        st.tuples(st.just("round"), length, st.just(0)),
    ]
    falling = [
        st.tuples(st.just("line"), length.map(lambda v: -v), st.integers(min_value=0, max_value=900)),
        st.tuples(st.just("fall-round"), length, st.just(0)),
        st.tuples(st.just("fall-hollow"), length, st.just(0)),
        st.tuples(st.just("trough"), length, st.just(0)),
    ]
    return st.one_of(rising if rising_only else rising + falling)


def _segment(at: Point, step: tuple[str, int, int], block: int) -> Segment:
    """One step of a contour toward -Z; lengths in hundredths of a millimetre."""
    name, first, second = step
    r = first * HUNDREDTH
    x, z = at.x, at.z
    table = {
        "line": (Kind.FEED, Point(x + r, z - second * HUNDREDTH), None),
        "fillet": (Kind.ARC_CW, Point(x + r, z - r), Point(x + r, z)),
        "round": (Kind.ARC_CCW, Point(x + r, z - r), Point(x, z - r)),
        "fall-round": (Kind.ARC_CCW, Point(x - r, z - r), Point(x - r, z)),
        "fall-hollow": (Kind.ARC_CW, Point(x - r, z - r), Point(x, z - r)),
        "trough": (Kind.ARC_CW, Point(x, z - 2 * r), Point(x, z - r)),
    }
    kind, end, centre = table[name]
    return Segment(kind, at, end, block, centre)


@st.composite
def roughs(draw: st.DrawFn, rising_only: bool = True) -> Rough:
    """An outside roughing cycle toward -Z: the contour begins below the start."""
    first = Point(draw(st.integers(4000, 6000)) * HUNDREDTH, draw(st.integers(-500, 500)) * HUNDREDTH)
    segments: list[Segment] = []
    at = first
    for number, step in enumerate(draw(st.lists(_steps(rising_only), min_size=1, max_size=6))):
        segments.append(_segment(at, step, 20 + number))
        at = segments[-1].end
    if at.z == first.z:
        segments.append(_segment(at, ("line", 0, 500), 40))
    highest = max([first.x, *(s.end.x for s in segments)])
    front = draw(st.sampled_from([0, 0, 200])) if not rising_only else 0
    start = Point(highest + draw(st.integers(1, 300)) * HUNDREDTH, first.z + front * HUNDREDTH)
    lead_in = Segment(Kind.RAPID, start, first, 10)
    return Rough(
        start=start,
        contour=Contour((lead_in, *segments), names_both_axes=not rising_only),
        depth=draw(st.integers(60, 900)) * HUNDREDTH,
        retract=draw(st.integers(0, 50)) * HUNDREDTH,
        allowance_x=draw(st.integers(0, 100)) * HUNDREDTH,
        allowance_z=draw(st.integers(-50, 100)) * HUNDREDTH,
        infeed=draw(st.sampled_from([Kind.RAPID, Kind.FEED])),
        pockets=not rising_only,
    )


def drawn(start: Point, stroke: Stroke | Segment) -> list[tuple[float, float]]:
    """A move as points (z, x) in millimetres; an arc as a fine chain on its circle."""
    ends = [(p.z / MM, p.x / MM) for p in (start, stroke.end)]
    if stroke.centre is None:
        return ends
    cz, cx = stroke.centre.z / MM, stroke.centre.x / MM
    (z0, x0), (z1, x1) = ends
    turn = 1 if stroke.kind is Kind.ARC_CCW else -1
    first = atan2(x0 - cx, z0 - cz)
    sweep = (turn * (atan2(x1 - cx, z1 - cz) - first)) % (2 * pi)
    radius, count = hypot(z0 - cz, x0 - cx), max(2, int(sweep * 60))
    inner = [first + turn * sweep * n / count for n in range(1, count)]
    return [ends[0], *((cz + radius * cos(a), cx + radius * sin(a)) for a in inner), ends[1]]


def boundary_of(rough: Rough) -> list[tuple[float, float]]:
    """The contour moved by the allowances, from the Z of the moved start, as points (z, x)."""
    look = moved(rough.allowance_x, rough.allowance_z)
    points = [(look.place(rough.start).z / MM, look.place(rough.contour.segments[0].end).x / MM)]
    for segment in rough.contour.segments[1:]:
        there = look.segment(segment)
        points += drawn(there.start, there)
    return points


def under(line: list[tuple[float, float]], top: float) -> BaseGeometry:
    """All between a chain of points and the line X = `top`."""
    corners = [*line, (line[-1][0], top), (line[0][0], top)]
    if len({z for z, _ in line}) < 2 or all(x == top for _, x in line):
        return Polygon()
    return Polygon(corners).buffer(0)


def removed_by(start: Point, strokes: list[Stroke], top: float) -> BaseGeometry:
    """What a tool without width removes on these strokes, when all above a cut falls away."""
    at, parts = start, []
    for stroke in strokes:
        if stroke.kind.cuts and stroke.end.z != at.z:
            parts.append(under(drawn(at, stroke), top))
        at = stroke.end
    return unary_union(parts)


def rapids_through(start: Point, strokes: list[Stroke], stock: BaseGeometry, top: float) -> list[str]:
    """The steps whose rapid leads through what is left of the stock at that moment."""
    at, found, left = start, [], stock
    for stroke in strokes:
        chain = drawn(at, stroke)
        if stroke.kind is Kind.RAPID and chain[0] != chain[-1]:
            if LineString(chain).intersection(left.buffer(-0.002)).length > 0.004:
                found.append(stroke.step)
        elif stroke.kind.cuts:
            # A straight plunge opens a slot as wide as the tool, which has no width: leave it a little.
            left = left.difference(under(chain, top)).difference(LineString(chain).buffer(0.004))
        at = stroke.end
    return found
