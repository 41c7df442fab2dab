"""The finished half section read as features as a drawing has them: diameters, faces, shoulders, tapers, chamfers, radii, grooves, holes, threads.

A feature has named sizes in mm or degrees. What still is the raw stock's own surface is no feature: nobody cut it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from math import atan2, degrees, hypot

from verifier.geometry.grooves import INSIDE, OUTSIDE, Groove, grooves
from verifier.geometry.part import TurnedPart
from verifier.geometry.surfaces import AXIS, CURVE, CYLINDER, FLAT, SLANT, Read, Surface, outlines
from verifier.geometry.thread_features import THREAD, Helix, helices

DIAMETER, FACE, SHOULDER, TAPER, CHAMFER, RADIUS = "diameter", "face", "shoulder", "taper", "chamfer", "radius"
GROOVE, HOLE, SPOT = "groove", "hole", "spot hole"

_CHAMFER, _CHAMFER_LEAST, _CHAMFER_MOST = 5.0, 10.0, 80.0
"""The longest slant, along Z and on the radius, between a face and a cylinder that counts as a chamfer, and its angles."""
_LEAST = 1e-4
_LEAST_RADIUS = 0.005
"""The least change of a size that is told (mm); a radius is fitted through points within a thousandth."""
_ON_AXIS = 1e-5
_EDGES = 3.0
"""Two stretches of one diameter on both sides of a groove are one feature; its broken edges are no wider than this."""

_RECESS = 12.0
"""The same of a recess that is no groove, mm."""

DIAMETER_SIZE, Z_SIZE, LENGTH_SIZE, RADIUS_SIZE, ANGLE_SIZE, LEAD_SIZE, COUNT_SIZE = "X", "Z", "L", "R", "A", "P", "N"


@dataclass(frozen=True, slots=True)
class Size:
    """One size of a feature, as a drawing gives it.

    `of` tells what it measures: "X" a diameter, "Z" a place along Z, "L" a length, "R" a radius or the height of a chamfer, "A" an angle in
    degrees, "P" a lead, "N" a number; all else in mm. `least` is the least change that counts.
    """

    name: str
    of: str
    value: float
    least: float = _LEAST


@dataclass(frozen=True, slots=True)
class Feature:
    """One feature: its kind, "outside" or "inside" (faces: "front" looks away from the spindle, "back" toward it), its sizes, where it runs.

    `z_from`, `z_to`, `r_from`, `r_to` is the box around it in mm; `samples` are places (Z, R) on its surfaces, for who wants to know which move
    left them; `moves` are those that a thread's passes are.
    """

    kind: str
    where: str
    sizes: tuple[Size, ...]
    z_from: float
    z_to: float
    r_from: float
    r_to: float
    samples: tuple[tuple[float, float], ...] = field(default=(), compare=False, repr=False)
    moves: tuple[int, ...] = field(default=(), compare=False, repr=False)

    def size(self, name: str) -> Size | None:
        """A size by its name; None where it has none of it."""
        return next((size for size in self.sizes if size.name == name), None)

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Z from and to, radius from and to."""
        return self.z_from, self.z_to, self.r_from, self.r_to


def features(part: TurnedPart, like: Iterable[Feature] = ()) -> tuple[Feature, ...]:
    """The features of a finished part, in order along Z from the spindle, then by radius.

    A recess too wide for a groove is one where one of `like` (another part's features) is a groove at its place: so that an edit that makes a
    groove wider still shows as one.
    """
    return Outlined(part).features(like)


class Outlined:
    """A finished part whose outline is read: its features can be asked for alone and beside those of another part.

    `read`: what outlines of other parts were read as (`outlines`).
    """

    def __init__(self, part: TurnedPart, read: Read | None = None) -> None:
        self._rings = [(ring, grooves(ring)) for ring in outlines(part.left, part.stock, read)]
        self._threads = helices(part)
        self._made: dict[tuple[Groove, ...], tuple[Feature, ...]] = {}

    def features(self, like: Iterable[Feature] = ()) -> tuple[Feature, ...]:
        """As `features`, of the part."""
        elsewhere = [feature for feature in like if feature.kind == GROOVE]
        valleys = [[one for one in found if one.sure or _stands_in(one, elsewhere)] for _, found in self._rings]
        key = tuple(one for found in valleys for one in found)
        if key not in self._made:
            self._made[key] = self._with(valleys)
        return self._made[key]

    def _with(self, valleys: Sequence[Sequence[Groove]]) -> tuple[Feature, ...]:
        """The features where these valleys of each ring are grooves."""
        found: list[Feature] = []
        for (ring, _), own in zip(self._rings, valleys, strict=True):
            found += _Ring(ring, own).features()
        found = [*_without_crests(found, self._threads), *(_thread(helix) for helix in self._threads)]
        return tuple(
            sorted(found, key=lambda f: (f.z_from, f.r_from, f.kind, f.where, [size.value for size in f.sizes]))
        )


def _stands_in(one: Groove, elsewhere: Iterable[Feature]) -> bool:
    """Whether a valley is a groove of another part."""
    return any(_meet(one.box, feature.box, one.where, feature.where) for feature in elsewhere)


class _Ring:
    """The features of one outline."""

    def __init__(self, ring: Sequence[Surface], found: Sequence[Groove]) -> None:
        self._ring = ring
        self._grooves = found
        self._taken = {index for one in self._grooves for index in one.members}
        ends = [z for surface in ring for z in (surface.start[0], surface.end[0])]
        self._ends = (min(ends), max(ends)) if ends else (0.0, 0.0)

    def features(self) -> list[Feature]:
        """All of them."""
        found = [_groove(one, [self._ring[k] for k in one.members]) for one in self._grooves if self._cut(one.members)]
        found += self._holes()
        for k, surface in enumerate(self._ring):
            if k not in self._taken and not surface.raw and surface.kind != AXIS:
                found += self._single(k, surface)
        return _joined(found, self._grooves)

    def _cut(self, members: Iterable[int]) -> bool:
        return not all(self._ring[k].raw for k in members)

    def _beside(self, k: int, step: int) -> Surface:
        return self._ring[(k + step) % len(self._ring)]

    def _holes(self) -> Iterator[Feature]:
        """Holes with the point of a drill at their end."""
        for k, cone in enumerate(self._ring):
            if cone.kind != SLANT or cone.side != "inside" or cone.raw or k in self._taken or cone.start[1] > _ON_AXIS:
                continue
            (z0, _), (z1, r1) = cone.start, cone.end
            point = Size("point angle", ANGLE_SIZE, 2 * degrees(atan2(r1, z1 - z0)), _least_angle(cone))
            wall = self._beside(k, 1)
            self._taken.add(k)
            if wall.kind == CYLINDER and wall.side == "inside" and abs(wall.start[1] - r1) < _LEAST:
                self._taken.add((k + 1) % len(self._ring))
                sizes = (Size("diameter", DIAMETER_SIZE, 2 * r1), Size("full depth", Z_SIZE, z1), point)
                yield _feature(HOLE, "inside", sizes, [cone, wall])
            else:
                yield _feature(
                    SPOT,
                    "inside",
                    (Size("mouth diameter", DIAMETER_SIZE, 2 * r1), Size("tip", Z_SIZE, z0), point),
                    [cone],
                )

    def _single(self, k: int, surface: Surface) -> Iterator[Feature]:
        z, r = surface.start
        if surface.kind == CYLINDER:
            yield _feature(DIAMETER, surface.side, (Size("diameter", DIAMETER_SIZE, 2 * r),), [surface])
        elif surface.kind == FLAT:
            kind = FACE if min(abs(z - end) for end in self._ends) < _LEAST else SHOULDER
            yield _feature(kind, surface.side, (Size("Z", Z_SIZE, z),), [surface])
        elif surface.kind == CURVE:
            yield _feature(
                RADIUS, surface.side, (Size("radius", RADIUS_SIZE, surface.radius, _LEAST_RADIUS),), [surface]
            )
        else:
            yield self._slant(k, surface)

    def _slant(self, k: int, surface: Surface) -> Feature:
        """A short slant between a face and a cylinder is a chamfer; any other a taper, told by its angle and by what its neighbours do not tell."""
        (z0, r0), (z1, r1) = surface.start, surface.end
        angle = degrees(atan2(abs(r1 - r0), abs(z1 - z0)))
        turned = Size("angle", ANGLE_SIZE, angle, _least_angle(surface))
        beside = [self._beside(k, -1), self._beside(k, 1)]
        kinds = {one.kind for one in beside}
        short = abs(z1 - z0) <= _CHAMFER and abs(r1 - r0) <= _CHAMFER and _CHAMFER_LEAST <= angle <= _CHAMFER_MOST
        if short and kinds == {CYLINDER, FLAT}:
            return _feature(CHAMFER, surface.side, (Size("width", RADIUS_SIZE, abs(z1 - z0)), turned), [surface])
        sizes = [turned]
        ends = sorted(zip((surface.start, surface.end), beside, strict=True), key=lambda end: end[0][1])
        for name, ((z, r), neighbour) in zip(("small end", "large end"), ends, strict=True):
            if neighbour.kind != FLAT:
                sizes.append(Size(f"{name} at Z", Z_SIZE, z))
            if neighbour.kind not in (CYLINDER, AXIS):
                sizes.append(Size(f"{name} diameter", DIAMETER_SIZE, 2 * r))
        return _feature(TAPER, surface.side, sizes, [surface])


def _least_angle(surface: Surface) -> float:
    (z0, r0), (z1, r1) = surface.start, surface.end
    return max(2e-4, degrees(2e-5 / hypot(z1 - z0, r1 - r0)))


def _groove(one: Groove, members: Sequence[Surface]) -> Feature:
    """A groove with its bottom, its width, where it stands, its corners, and the angles of walls that are not upright."""
    round_ = one.where in (OUTSIDE, INSIDE)
    edges = sorted(one.edges)
    sizes = [
        Size("bottom diameter", DIAMETER_SIZE, 2 * abs(one.bottom))
        if round_
        else Size("bottom", Z_SIZE, one.bottom if one.where == "front" else -one.bottom),
        Size("width" if one.upright else "width at the mouth", LENGTH_SIZE, one.width),
        Size("edge", Z_SIZE, edges[0]) if round_ else Size("inner diameter", DIAMETER_SIZE, 2 * edges[0]),
    ]
    # Outside and in a back face the outline comes from the far side.
    walls = one.walls if one.where in (INSIDE, "front") else one.walls[::-1]
    names = ("toward the spindle", "away from the spindle") if round_ else ("at the inside", "at the outside")
    corners = [wall.corner for wall in walls]
    if None not in corners and abs((corners[0] or 0) - (corners[1] or 0)) < _LEAST_RADIUS:
        sizes.append(Size("corner radius", RADIUS_SIZE, corners[0] or 0, _LEAST_RADIUS))
    else:
        sizes += [
            Size(f"corner radius {name}", RADIUS_SIZE, radius, _LEAST_RADIUS)
            for name, radius in zip(names, corners, strict=True)
            if radius is not None
        ]
    deep = one.mouth - one.bottom
    least = max(0.01, degrees(2e-4 / deep))
    sizes += [
        Size(f"wall angle {name}", ANGLE_SIZE, wall.lean, least)
        for name, wall in zip(names, walls, strict=True)
        if abs(wall.lean) > least and (wall.corner is None or one.flat)
    ]
    found = _feature(GROOVE, one.where, sizes, members)
    z_from, z_to, r_from, r_to = one.box
    return replace(found, z_from=z_from, z_to=z_to, r_from=r_from, r_to=r_to)


def _feature(kind: str, where: str, sizes: Iterable[Size], members: Sequence[Surface]) -> Feature:
    boxes = [surface.box for surface in members]
    samples = tuple(place for surface in members if not surface.raw for place in surface.samples())
    box = (min(b[0] for b in boxes), max(b[1] for b in boxes), min(b[2] for b in boxes), max(b[3] for b in boxes))
    return Feature(kind, where, tuple(sizes), *box, samples)


def _meet(a: tuple[float, ...], b: tuple[float, ...], one: str, other: str) -> bool:
    """Whether two boxes of one side overlap."""
    return one == other and a[0] < b[1] and b[0] < a[1] and a[2] < b[3] and b[2] < a[3]


def _joined(found: list[Feature], between: Sequence[Groove]) -> list[Feature]:
    """Stretches of one diameter that only grooves or a narrow recess part are one feature."""
    boxes = [one.box for one in between if one.where in (OUTSIDE, INSIDE)]
    rest = [feature for feature in found if feature.kind != DIAMETER]
    kept: list[Feature] = []
    for feature in sorted((f for f in found if f.kind == DIAMETER), key=lambda f: (f.where, f.r_to, f.z_from)):
        last = kept[-1] if kept else None
        if last is not None and last.where == feature.where and abs(last.r_to - feature.r_to) < _LEAST / 2:
            gap = last.z_to, feature.z_from
            parted = any(z0 - _EDGES <= gap[0] and gap[1] <= z1 + _EDGES for z0, z1, *_ in boxes)
            if parted or (gap[1] - gap[0] <= _RECESS and not _stands_out(found, gap, feature)):
                kept[-1] = replace(last, z_to=feature.z_to, samples=last.samples + feature.samples)
                continue
        kept.append(feature)
    return rest + kept


def _stands_out(found: Iterable[Feature], gap: tuple[float, float], beside: Feature) -> bool:
    """Whether something between two stretches of a diameter stands out of it (inside: into it)."""
    between = [
        f for f in found if f.where == beside.where and gap[0] <= f.z_from + _LEAST and f.z_to - _LEAST <= gap[1]
    ]
    if beside.where == INSIDE:
        return any(f.r_from < beside.r_from - _LEAST for f in between)
    return any(f.r_to > beside.r_to + _LEAST for f in between)


# -- threads ----------------------------------------------------------------------------------------------------------------


def _without_crests(found: Iterable[Feature], threads: Sequence[Helix]) -> Iterator[Feature]:
    """All but the cylinders and tapers that are the crests of threads: the thread tells them."""
    for feature in found:
        crest = feature.kind in (DIAMETER, TAPER) and any(
            helix.where == feature.where
            and helix.length is not None
            and helix.crest is not None
            and feature.r_from - _LEAST <= helix.crest / 2 <= feature.r_to + _LEAST
            and 2 * (min(helix.z_to, feature.z_to) - max(helix.z_from, feature.z_from)) > feature.z_to - feature.z_from
            for helix in threads
        )
        if not crest:
            yield feature


def _thread(helix: Helix) -> Feature:
    """A thread as a drawing gives it; what its crest or its length is, is left out where it is cut in air."""
    inside = helix.where == "inside"
    major, minor = (helix.root, helix.crest) if inside else (helix.crest, helix.root)
    sizes = [
        Size(name, DIAMETER_SIZE, value)
        for name, value in (("major diameter", major), ("minor diameter", minor))
        if value is not None
    ]
    sizes.append(Size("lead", LEAD_SIZE, helix.lead, 1e-7))
    if helix.length is not None:
        sizes.append(Size("length", LENGTH_SIZE, helix.length))
    sizes.append(Size("end", Z_SIZE, helix.end))
    if helix.lead_change:
        sizes.append(Size("change of lead per turn", LEAD_SIZE, helix.lead_change, 1e-7))
    if helix.taper:
        sizes.append(Size("taper angle", ANGLE_SIZE, helix.taper, 1e-3))
    if helix.starts > 1:
        sizes.append(Size("starts", COUNT_SIZE, helix.starts))
    low, high = sorted((helix.root / 2, (helix.root if helix.crest is None else helix.crest) / 2))
    samples = (((helix.z_from + helix.z_to) / 2, helix.crest / 2),) if helix.crest is not None else ()
    return Feature(THREAD, helix.where, tuple(sizes), helix.z_from, helix.z_to, low, high, samples, helix.moves)
