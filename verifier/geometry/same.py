"""Whether two turned parts are the same, threads included, as far as the sweep can tell them apart."""

from __future__ import annotations

import shapely

from verifier.geometry.part import ThreadPass, TurnedPart

_APART = 0.0004
"""Profiles that differ by less than twice this, in mm, are the same: chords of the same circle may stand elsewhere on it."""


def same_part(old: TurnedPart, new: TurnedPart) -> bool:
    """Whether both leave the same half section, and the same threads in it."""
    if not shapely.equals_exact(old.left, new.left):
        between = shapely.symmetric_difference(old.left, new.left)
        if not shapely.is_empty(shapely.buffer(between, -_APART)):
            return False
    return _threads(old.threads) == _threads(new.threads)


def _threads(passes: tuple[ThreadPass, ...]) -> frozenset[tuple[object, ...]]:
    """The helices that were cut, each as its deepest pass leaves it: how many passes it took makes no difference."""
    deepest: dict[tuple[object, ...], tuple[float, ...]] = {}
    for one in passes:
        sign = 1.0 if one.inside else -1.0
        forward = one.end[0] > one.start[0]
        taper = round(one.end[1] - one.start[1], 4)
        key = (one.lead, one.lead_change, one.start_angle, one.sense, one.inside, forward, taper)
        depth = (sign * round(one.end[1], 4), round(one.end[0], 4))
        deepest[key] = max(deepest.get(key, depth), depth)
    return frozenset((*key, *depth) for key, depth in deepest.items())
