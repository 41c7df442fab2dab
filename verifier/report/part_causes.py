"""Which edits moved a feature: those behind what differs in the moves that left it, else behind what differs nearest to it."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from verifier.compare import Comparison, Effect, Item
from verifier.control import TICKS_PER_MM

_PATH = frozenset(("x", "z", "arc", "kind", "added", "removed", "order"))
"""Fields whose difference is another way of the tool."""

Box = tuple[float, float, float, float]
"""Z from and to, radius from and to, mm."""
Rows = tuple[Iterable[int], Iterable[int]]
"""Moves of the base and of the revision."""


class PartCauses:
    """The differences of a comparison by the moves of both sides."""

    def __init__(self, comparison: Comparison) -> None:
        self._of_rows: tuple[dict[int, list[tuple[bool, Effect]]], ...] = ({}, {})
        near: list[tuple[Box, Effect]] = []
        for effect in comparison.effects:
            if effect.position or effect.left:
                continue
            is_path = effect.field in _PATH
            for difference in effect.differences:
                for side, item in enumerate((difference.old, difference.new)):
                    if item is None or not item.is_move:
                        continue
                    for row in range(item.first, item.last + 1):
                        self._of_rows[side].setdefault(row, []).append((is_path, effect))
                    box = _box(item) if is_path and item.cuts else None
                    if box is not None:
                        near.append((box, effect))
        self._effects = [effect for _, effect in near]
        self._boxes = np.array([box for box, _ in near]) if near else np.zeros((0, 4))

    def of(self, rows: Rows, box: Box) -> tuple[int, ...]:
        """The edits behind a feature that moved: `rows` are the moves that left it on either side, `box` is where it lies."""
        found = [entry for side, own in enumerate(rows) for row in own for entry in self._of_rows[side].get(row, ())]
        direct = [effect for is_path, effect in found if is_path] or [effect for _, effect in found]
        effects = direct or self._nearest(box)
        return tuple(sorted({edit for effect in effects for edit in effect.causes}))

    def _nearest(self, box: Box) -> list[Effect]:
        if not len(self._boxes):
            return []
        apart = _apart(self._boxes, box)
        return [self._effects[k] for k in np.flatnonzero(apart <= apart.min() + 1e-6).tolist()]


def _box(item: Item) -> Box | None:
    if item.start.bx or item.start.bz or item.end.bx or item.end.bz:
        return None
    zs, rs = ((a / TICKS_PER_MM, b / TICKS_PER_MM) for a, b in ((item.start.z, item.end.z), (item.start.x, item.end.x)))
    return min(zs), max(zs), min(rs), max(rs)


def _apart(boxes: NDArray[np.float64], box: Box) -> NDArray[np.float64]:
    """How far boxes lie from another one."""
    z0, z1, r0, r1 = boxes.T
    along = np.maximum(np.maximum(z0 - box[1], box[0] - z1), 0.0)
    across = np.maximum(np.maximum(r0 - box[3], box[2] - r1), 0.0)
    return np.asarray(np.hypot(along, across), np.float64)
