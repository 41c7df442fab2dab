"""The features of two parts put together, each with its own: what changed, what is gone, what is new. Mirrored for exchanged parts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from math import hypot

import shapely

from verifier.geometry.features import Feature, Outlined, Size
from verifier.geometry.part import TurnedPart
from verifier.geometry.surfaces import Read, pieces

_FAMILY = {"shoulder": "face", "chamfer": "slant", "taper": "slant", "hole": "hole", "spot hole": "hole"}
"""Kinds that an edit can make of one another."""
_MOST_PAIRS = 250_000
_APART = 0.0004
"""Half the thickness in mm below which a difference of two sections is the rounding of chords."""
_BESIDE = 0.05
_ROUGH = 0.05
"""Features that lie no farther apart than this stay where they were, in mm."""

Offset = tuple[float, float]
Candidate = tuple[tuple[float, ...], int, int]


@dataclass(frozen=True, slots=True)
class SizePair:
    """A size before and after; None where the feature had or has none of it."""

    old: Size | None
    new: Size | None

    @property
    def either(self) -> Size:
        """As it is now, else as it was."""
        found = self.new or self.old
        assert found is not None
        return found


@dataclass(frozen=True, slots=True)
class FeaturePair:
    """A feature before and after; None where it is not there."""

    old: Feature | None
    new: Feature | None

    @property
    def either(self) -> Feature:
        """As it is now, else as it was."""
        found = self.new or self.old
        assert found is not None
        return found

    @property
    def differs(self) -> bool:
        """Whether a size of it changed, or it is gone or new."""
        return self.old is None or self.new is None or bool(self.changes())

    def changes(self) -> tuple[SizePair, ...]:
        """The sizes that differ, in the order of the feature; what only follows from another of them is left out."""
        if self.old is None or self.new is None:
            return ()
        names = dict.fromkeys(size.name for feature in (self.old, self.new) for size in feature.sizes)
        pairs = [SizePair(self.old.size(name), self.new.size(name)) for name in names]
        return tuple(_without_derived([pair for pair in pairs if _differ(pair)]))


_DERIVED = {"edge": "width", "end": "length", "inner diameter": "width"}
"""Where both change by one amount, the first only follows from the second."""


def _differ(pair: SizePair) -> bool:
    if pair.old is None or pair.new is None:
        return True
    return abs(pair.old.value - pair.new.value) >= max(pair.old.least, pair.new.least)


def _without_derived(pairs: list[SizePair]) -> Iterator[SizePair]:
    moved = {pair.old.name: pair.new.value - pair.old.value for pair in pairs if pair.old and pair.new}
    for pair in pairs:
        name = pair.either.name
        lead = _DERIVED.get(name)
        if lead in moved and name in moved:
            share = 0.5 if name == "inner diameter" else 1.0
            if abs(abs(moved[name]) * share - abs(moved[lead])) < 1e-4:
                continue
        yield pair


@dataclass(frozen=True, slots=True)
class Strip:
    """A stretch of the profile that differs though no feature tells it: the box around it, and how thick the difference is, mm."""

    z_from: float
    z_to: float
    r_from: float
    r_to: float
    thick: float


def features_of_both(old: TurnedPart, new: TurnedPart) -> tuple[tuple[Feature, ...], tuple[Feature, ...]]:
    """The features of two parts, so read that a groove of one is one in the other, too, where there is any recess."""
    read: Read = {}
    one, other = Outlined(old, read), Outlined(new, read)
    before, after = one.features(), other.features()
    return one.features(like=after), other.features(like=before)


def paired_features(old: Sequence[Feature], new: Sequence[Feature]) -> tuple[FeaturePair, ...]:
    """Every feature of both sides once: with its partner, or alone where it is gone or new.

    A shift of the whole profile moves all alike, so that the offset that most features have in common goes first; then what stands where it
    stood, then the nearest of one kind and side.
    """
    taken: tuple[set[int], set[int]] = (set(), set())
    found: list[FeaturePair] = []

    def take(i: int, j: int) -> None:
        if i not in taken[0] and j not in taken[1]:
            taken[0].add(i)
            taken[1].add(j)
            found.append(FeaturePair(old[i], new[j]))

    shift = _shift(old, new)
    for offset in dict.fromkeys((shift, (0.0, 0.0))):
        for i, j in _standing(old, new, offset):
            take(i, j)
    left = [i for i in range(len(old)) if i not in taken[0]], [j for j in range(len(new)) if j not in taken[1]]
    for _, i, j in sorted(_candidates(old, new, left, shift)):
        take(i, j)
    found += [FeaturePair(feature, None) for i, feature in enumerate(old) if i not in taken[0]]
    found += [FeaturePair(None, feature) for j, feature in enumerate(new) if j not in taken[1]]
    return tuple(sorted(found, key=_place))


def untold(old: TurnedPart, new: TurnedPart, told: Iterable[FeaturePair]) -> tuple[Strip, ...]:
    """Where the two profiles differ beside every feature that is told as changed: nothing of the part changes in silence."""
    if shapely.equals_exact(old.left, new.left):
        return ()
    boxes = [
        shapely.box(f.z_from - _BESIDE, f.r_from - _BESIDE, f.z_to + _BESIDE, f.r_to + _BESIDE)
        for pair in told
        for f in (pair.old, pair.new)
        if f is not None
    ]
    between = shapely.symmetric_difference(*(shapely.union_all(pieces(part.left)) for part in (old, new)))
    found = []
    for piece in shapely.get_parts(between):
        if piece.geom_type != "Polygon" or shapely.is_empty(shapely.buffer(piece, -_APART)):
            continue
        if not any(shapely.intersects(piece, box) for box in boxes):
            z0, r0, z1, r1 = shapely.bounds(piece).tolist()
            long = max(hypot(z1 - z0, r1 - r0), 1e-9)
            found.append(Strip(z0, z1, r0, r1, float(shapely.area(piece)) / long))
    return tuple(found)


# -- which belongs to which -----------------------------------------------------------------------------------------------------


def _family(feature: Feature) -> tuple[str, str]:
    return _FAMILY.get(feature.kind, feature.kind), feature.where


def _extent(feature: Feature) -> tuple[object, ...]:
    shape = round(feature.z_to - feature.z_from, 3), round(feature.r_to - feature.r_from, 3)
    return (*_family(feature), *shape)


def _shift(old: Sequence[Feature], new: Sequence[Feature]) -> Offset:
    """By how much most of the features moved: nothing, unless more of them lie at one other offset than stay in their place."""
    here = Counter(_at(f, (0.0, 0.0)) for f in old) & Counter(_at(f, (0.0, 0.0)) for f in new)
    if 2 * here.total() >= min(len(old), len(new)):
        return 0.0, 0.0
    by_extent: dict[tuple[object, ...], list[Feature]] = {}
    for feature in new:
        by_extent.setdefault(_extent(feature), []).append(feature)
    votes: dict[Offset, list[tuple[float, float]]] = {}
    pairs = 0
    for a in old:
        alike = by_extent.get(_extent(a), [])
        pairs += len(alike)
        if pairs > _MOST_PAIRS:
            return 0.0, 0.0
        for b in alike:
            offset = _near_zero(b.z_from - a.z_from), _near_zero(b.r_from - a.r_from)
            votes.setdefault(offset, []).append((round(a.z_from + b.z_from, 3), round(a.r_from + b.r_from, 3)))
    ranked = sorted(votes, key=lambda o: (-len(votes[o]), abs(o[0]) + abs(o[1]), min(votes[o])))
    best = ranked[0] if ranked else (0.0, 0.0)
    return best if len(votes.get(best, ())) > max(here.total(), 1) else (0.0, 0.0)


def _near_zero(value: float) -> float:
    return round(value, 3) + 0.0


def _at(feature: Feature, offset: Offset) -> tuple[object, ...]:
    dz, dr = offset
    z0, z1, r0, r1 = feature.box
    return (*_family(feature), *(_near_zero(v) for v in (z0 + dz, z1 + dz, r0 + dr, r1 + dr)))


def _standing(old: Sequence[Feature], new: Sequence[Feature], offset: Offset) -> Iterator[tuple[int, int]]:
    """Features of one kind and side whose boxes differ by an offset and nothing else."""
    there: dict[tuple[object, ...], list[int]] = {}
    for j, feature in enumerate(new):
        there.setdefault(_at(feature, (0.0, 0.0)), []).append(j)
    for i, feature in enumerate(old):
        found = there.get(_at(feature, offset))
        if found:
            yield i, found.pop(0)


def _candidates(
    old: Sequence[Feature], new: Sequence[Feature], left: tuple[list[int], list[int]], shift: Offset
) -> Iterator[Candidate]:
    """What may belong together: equal sizes first, then the nearest; the order is the same for exchanged parts."""
    if len(left[0]) * len(left[1]) > _MOST_PAIRS:
        return  # Two parts with so little in common: all of one is gone, all of the other new.
    for i in left[0]:
        for j in left[1]:
            a, b = old[i], new[j]
            if _family(a) == _family(b):
                apart = min(_apart(a, b, (0.0, 0.0)), _apart(a, b, shift))
                near = apart <= max(_ROUGH, _reach(a), _reach(b))
                if not near and a.kind == b.kind == "groove":
                    continue  # A groove somewhere else is another groove.
                ends = (a.z_from + b.z_from, a.r_from + b.r_from, abs(a.sizes[0].value - b.sizes[0].value))
                changed = bool(FeaturePair(a, b).changes())
                yield (float(changed or not near), round(apart, 6), *(round(end, 6) for end in ends)), i, j


def _reach(feature: Feature) -> float:
    return max(feature.z_to - feature.z_from, feature.r_to - feature.r_from, 0.1)


def _apart(a: Feature, b: Feature, offset: Offset) -> float:
    """How far two features lie from each other: between the middles of their boxes, mm."""
    along = (b.z_from + b.z_to - a.z_from - a.z_to) / 2 - offset[0]
    return hypot(along, (b.r_from + b.r_to - a.r_from - a.r_to) / 2 - offset[1])


def _place(pair: FeaturePair) -> tuple[float, float, str]:
    places = [f for f in (pair.old, pair.new) if f is not None]
    return -max(f.z_to for f in places), min(f.r_from for f in places), min(f.kind for f in places)
