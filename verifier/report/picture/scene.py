"""What there is to be drawn of one program, or of a change: stretches of path with how they look, outlines, and marks where edits act.

A plane of millimetres: Z to the right, X (the radius) upward. Pure: the same comparison gives the same scene.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import IntEnum
from math import cos, hypot, pi, sin

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Geometry

from verifier.compare import Difference, Side
from verifier.control import TICKS_PER_MM, Kind, Trace
from verifier.findings.view import ChangeView
from verifier.geometry import stock_section, zone_section

Point = tuple[float, float]
"""Z and X (radius) in mm."""

_PATH_FIELDS = frozenset(("x", "z", "arc", "kind", "added", "removed"))
_SLIVER = 1e-4
"""Half the width in mm below which a difference of two sections is rounding."""
_ARC_STEP = pi / 90
"""An arc is drawn in chords of so many radians (2 degrees): a tenth of a thousandth of its radius from the true arc."""


class Look(IntEnum):
    """How a stretch of path is drawn. BOTH: base and revision go it alike; OTHER: alike, with other values in force."""

    BOTH = 0
    OTHER = 1
    OLD = 2
    NEW = 3


@dataclass(frozen=True, slots=True)
class Stretch:
    """Moves one after the other that look alike, as one line."""

    look: Look
    rapid: bool
    points: tuple[Point, ...]
    label: str


@dataclass(frozen=True, slots=True)
class Mark:
    """Where an edit acts: the number of its card, and the middle of the stretch that it changes most."""

    number: int
    at: Point
    box: tuple[Point, Point]
    """Lower left and upper right corner of all that it changes in the path; a point where the path stays as it was."""


@dataclass(frozen=True, slots=True)
class Outline:
    """A thing that stands there, as rings of corners (a hole is a ring too).

    `kind`: "stock" (the raw piece), "keep-out", "part" (what is left at the end), and of a change "only-before", "only-now" (what only one
    of the two leaves standing).
    """

    kind: str
    name: str
    rings: tuple[tuple[Point, ...], ...]

    @property
    def corners(self) -> Iterable[Point]:
        """All corners."""
        return (point for ring in self.rings for point in ring)


@dataclass(frozen=True, slots=True)
class Scene:
    """All that is drawn, and in words what is not: `unplaced` moves begin or end where only the machine knows."""

    stretches: tuple[Stretch, ...]
    marks: tuple[Mark, ...]
    outlines: tuple[Outline, ...]
    units: str
    unplaced: int
    is_change: bool


def scene_of_change(change: ChangeView, numbers: Mapping[int, int]) -> Scene:
    """Base and revision over each other; `numbers` gives for each edit the number of its card."""
    old, new = change.comparison.old, change.comparison.new
    looks = [np.zeros(len(side.trace.moves), np.int8) for side in (old, new)]
    shared: tuple[dict[int, Point], dict[int, Point]] = ({}, {})
    for effect in change.comparison.effects:
        for difference in () if effect.position or effect.left else effect.differences:
            _mark(looks, difference)
            _share(shared, difference)
    gone, lost_old = _stretches(old, looks[0], shared[0], only=Look.OLD)
    there, lost_new = _stretches(new, looks[1], shared[1])
    outlines = outlines_of(old, new)
    return Scene((*gone, *there), marks_of(change, numbers), outlines, change.units, max(lost_old, lost_new), True)


def marks_of(change: ChangeView, numbers: Mapping[int, int]) -> tuple[Mark, ...]:
    """Where each card acts, in the order of their numbers; cards that have no place in the path have none."""
    reach: dict[int, list[Difference]] = {}
    for effect in change.comparison.effects:
        if effect.position or effect.left:
            continue
        for number in dict.fromkeys(numbers[edit] for edit in effect.causes if edit in numbers):
            reach.setdefault(number, []).extend(effect.differences)
    old, new = change.comparison.old.trace, change.comparison.new.trace
    return tuple(found for number in sorted(reach) if (found := _mark_of(number, reach[number], old, new)))


def scene_of_program(side: Side, units: str) -> Scene:
    """One program alone."""
    there, lost = _stretches(side, np.zeros(len(side.trace.moves), np.int8), {})
    return Scene(there, (), outlines_of(None, side), units, lost, False)


def _mark(looks: Sequence[NDArray[np.int8]], difference: Difference) -> None:
    """Note in the rows of both sides how a difference makes them look; the path counts for more than the values."""
    is_path = difference.field in _PATH_FIELDS
    for look, item, changed in ((looks[0], difference.old, Look.OLD), (looks[1], difference.new, Look.NEW)):
        if item is not None and item.is_move:
            rows = slice(item.first, item.last + 1)
            look[rows] = np.maximum(look[rows], changed if is_path else Look.OTHER)


def _share(shared: tuple[dict[int, Point], dict[int, Point]], difference: Difference) -> None:
    """Of two straight moves on one line from one place, that only end elsewhere, the way to the nearer end is shared."""
    old, new = difference.old, difference.new
    if (
        difference.field not in ("x", "z")
        or old is None
        or new is None
        or old.start != new.start
        or old.kind != new.kind
    ):
        return
    if old.kind not in ("feed", "rapid") or old.first != old.last or new.first != new.last:
        return
    ways = [(item.end.z - item.start.z, item.end.x - item.start.x) for item in (old, new)]
    cross = ways[0][0] * ways[1][1] - ways[0][1] * ways[1][0]
    lengths = [way[0] ** 2 + way[1] ** 2 for way in ways]
    if cross or ways[0][0] * ways[1][0] + ways[0][1] * ways[1][1] <= 0:
        return
    for side, item in ((0, old), (1, new)):
        nearer = 1 if lengths[0] == min(lengths) else 0
        end = (old, new)[1 - nearer].end
        shared[side][item.first] = (end.z / TICKS_PER_MM, end.x / TICKS_PER_MM)


# -- the path -----------------------------------------------------------------------------------------------------------


def _stretches(
    side: Side, looks: NDArray[np.int8], shared: Mapping[int, Point], only: Look | None = None
) -> tuple[tuple[Stretch, ...], int]:
    """The moves of a side as lines; `only` those of one look. Beside them how many moves have no known place."""
    looks = looks[: side.trace.first_pass]
    rows = np.arange(len(looks)) if only is None else np.flatnonzero(looks == only)
    labels, rapids = _labels(side), (side.trace.moves.kind == Kind.RAPID).tolist()
    line, before, unplaced = _Line(only), -1, 0
    for row, piece, look in zip(rows.tolist(), _pieces(side.trace, rows), map(Look, looks[rows].tolist()), strict=True):
        if row > before + 1:
            line.end()
        before = row
        if piece is None:
            unplaced += 1
            line.end()
            continue
        rapid, until = rapids[row], shared.get(row)
        if until is not None and look in (Look.OLD, Look.NEW) and len(piece) == 2:
            middle = _on_the_way(piece, until)
            line.go((piece[0], middle), (Look.BOTH, rapid, labels[row]))
            if middle != piece[1]:
                line.go((middle, piece[1]), (look, rapid, labels[row]))
        else:
            line.go(piece, (look, rapid, labels[row]))
    line.end()
    return tuple(line.found), unplaced


def _on_the_way(piece: tuple[Point, ...], until: Point) -> Point:
    """The place on a straight piece that is as far along as a place named in the program's own coordinates."""
    (z0, x0), (z1, x1) = piece
    axis = 0 if abs(z1 - z0) > abs(x1 - x0) else 1
    way = (z1 - z0, x1 - x0)[axis]
    t = min(1.0, max(0.0, (until[axis] - piece[0][axis]) / way)) if way else 1.0
    return z0 + t * (z1 - z0), x0 + t * (x1 - x0)


class _Line:
    """Pieces one after the other that look alike, gathered into stretches; those of another look than `only` are left out."""

    def __init__(self, only: Look | None) -> None:
        self._only = only
        self._points: list[Point] = []
        self._state: tuple[Look, bool, str] | None = None
        self.found: list[Stretch] = []

    def go(self, piece: tuple[Point, ...], state: tuple[Look, bool, str]) -> None:
        if self._only is not None and state[0] is not self._only:
            self.end()
            return
        if state != self._state or self._points[-1] != piece[0]:
            self.end()
            self._points, self._state = [piece[0]], state
        self._points += piece[1:]

    def end(self) -> None:
        if self._state is not None:
            self.found.append(Stretch(self._state[0], self._state[1], tuple(self._points), self._state[2]))
        self._state = None


def _labels(side: Side) -> list[str]:
    """For each move the label of the sequence that makes it."""
    trace = side.trace
    outermost = [-1]
    for block, outer in trace.callers[1:]:
        outermost.append(outermost[outer] if outermost[outer] >= 0 else block)
    of_block: dict[int, str] = {b: s.label for s in side.sequences for b in range(s.first, s.end)}
    home = np.array(outermost, np.int64)[trace.moves.caller]
    home = np.where(home < 0, trace.moves.block, home)
    return [of_block.get(block, "") for block in home.tolist()]


def _pieces(trace: Trace, rows: NDArray[np.int64]) -> Iterator[tuple[Point, ...] | None]:
    """Each of these moves as points, in the place where the machine goes whatever the coordinates are called; None: not known."""
    moves, shifts = trace.moves, [_shift(state.frame) for state in trace.states]
    placed = np.array([shift is not None for shift in shifts], np.bool_)[moves.state]
    placed &= (moves.bx0 == 0) & (moves.bz0 == 0) & (moves.bx1 == 0) & (moves.bz1 == 0)
    shift = np.array([shift or (0.0, 0.0) for shift in shifts]).reshape(-1, 2)[moves.state[rows]]
    arc = np.isin(moves.kind, (Kind.ARC_CW, Kind.ARC_CCW)) & ((moves.cx != 0) | (moves.cz != 0) | (moves.remark == 0))
    start, end, centre = (
        [(z, x) for z, x in (np.stack((zs[rows], xs[rows]), 1) / TICKS_PER_MM + shift).tolist()]
        for zs, xs in ((moves.z0, moves.x0), (moves.z1, moves.x1), (moves.cz, moves.cx))
    )
    clockwise = (moves.kind[rows] == Kind.ARC_CW).tolist()
    for k, (known, curved) in enumerate(zip(placed[rows].tolist(), arc[rows].tolist(), strict=True)):
        if not known:
            yield None
        elif curved:
            yield _arc(start[k], end[k], centre[k], clockwise=clockwise[k])
        else:
            yield start[k], end[k]


def _shift(frame: tuple[str, int, str, int]) -> Point | None:
    base_x, x, base_z, z = frame
    return None if base_x or base_z else (z / TICKS_PER_MM, x / TICKS_PER_MM)


def _arc(start: Point, end: Point, centre: Point, *, clockwise: bool) -> tuple[Point, ...]:
    """An arc as chords; clockwise as seen with Z to the right and X upward, as the two signs of a lathe's arcs are read here."""
    first, last = (np.arctan2(p[1] - centre[1], p[0] - centre[0]) for p in (start, end))
    turn = (first - last) % (2 * pi) if clockwise else (last - first) % (2 * pi)
    turn = turn or (2 * pi if start == end else 0.0)
    count = max(1, int(turn / _ARC_STEP) + 1)
    sense = -1 if clockwise else 1
    radius = [hypot(p[0] - centre[0], p[1] - centre[1]) for p in (start, end)]
    middle = []
    for k in range(1, count):
        angle, r = first + sense * turn * k / count, radius[0] + (radius[1] - radius[0]) * k / count
        middle.append((centre[0] + r * cos(angle), centre[1] + r * sin(angle)))
    return (start, *middle, end)


# -- marks and outlines -------------------------------------------------------------------------------------------------


def _mark_of(number: int, differences: Iterable[Difference], old: Trace, new: Trace) -> Mark | None:
    """The mark of one card: in the middle of its longest changed cut (else rapid) on the new side, else on the old."""
    moved: list[Point] = []
    best: tuple[tuple[int, int, float], Point] | None = None
    for difference in differences:
        is_path = difference.field in _PATH_FIELDS
        for side, item, trace in ((0, difference.old, old), (1, difference.new, new)):
            if item is None or not item.is_move or item.start.bx or item.start.bz or item.end.bx or item.end.bz:
                continue
            shift = _shift(trace.states[int(trace.moves.state[item.first])].frame)
            if shift is None or item.first >= trace.first_pass:
                continue
            ends = [(p.z / TICKS_PER_MM + shift[0], p.x / TICKS_PER_MM + shift[1]) for p in (item.start, item.end)]
            middle = _between(*ends)
            other = difference.new if side == 0 else difference.old
            if difference.field in ("x", "z") and other is not None and other.start == item.start:
                # Where only the end is another one, the place is between the two ends.
                middle = _between(
                    ends[1], (other.end.z / TICKS_PER_MM + shift[0], other.end.x / TICKS_PER_MM + shift[1])
                )
            if is_path and item.cuts:
                moved += ends[1:] if difference.field in ("x", "z") else ends
            rank = (int(item.cuts), side, hypot(ends[1][0] - ends[0][0], ends[1][1] - ends[0][1]))
            if best is None or rank > best[0]:
                best = rank, middle
    if best is None:
        return None
    box = moved or [best[1]]
    corners = (min(p[0] for p in box), min(p[1] for p in box)), (max(p[0] for p in box), max(p[1] for p in box))
    return Mark(number, best[1], corners)


def _between(one: Point, other: Point) -> Point:
    return (one[0] + other[0]) / 2, (one[1] + other[1]) / 2


def outlines_of(old: Side | None, new: Side) -> tuple[Outline, ...]:
    """Raw piece, keep-out zones, and what is left of the piece by both sides, as far as a setup sheet tells."""
    setup = new.setup
    if setup is None:
        return ()
    found = []
    if setup.stock is not None:
        found.append(Outline("stock", setup.stock.kind, rings_of(stock_section(setup.stock))))
    for zone in setup.work_holding.keep_out if setup.work_holding is not None else ():
        found.append(Outline("keep-out", zone.name, rings_of(zone_section(zone))))
    after = new.part()
    before = old.part() if old is not None else None
    if after is not None:
        found.append(Outline("part", "", rings_of(after.left)))
        if before is not None:
            found.append(Outline("only-before", "", rings_of(_solid(before.left, after.left))))
            found.append(Outline("only-now", "", rings_of(_solid(after.left, before.left))))
    return tuple(one for one in found if one.rings)


def _solid(one: Geometry, other: Geometry) -> Geometry:
    """What one section has and another has not, without slivers that only rounding makes."""
    if shapely.equals_exact(one, other):
        return shapely.Polygon()
    rest = shapely.difference(one, other)
    return rest if shapely.area(shapely.buffer(rest, -_SLIVER)) > 0 else shapely.Polygon()


def rings_of(section: Geometry) -> tuple[tuple[Point, ...], ...]:
    """The rings of a section's polygons."""
    found: list[tuple[Point, ...]] = []
    for part in shapely.get_parts(section):
        if isinstance(part, shapely.Polygon) and not part.is_empty:
            found += [tuple((float(z), float(x)) for z, x in ring.coords) for ring in (part.exterior, *part.interiors)]
    return tuple(found)
