"""Cuts that go on along the line of the one before, as pecks do.

Such a cut takes off what lies between where its edge stood and where it comes to. Where all of that is material, that is known without an overlay,
and what a row of such cuts took is taken off the half section at once, when something else comes near.
"""

from __future__ import annotations

import numpy as np
import shapely

from verifier.geometry.section import Box, Section, box_of
from verifier.geometry.sweep import front_of, swept_legs
from verifier.geometry.tool_outline import Points

Place = list[float]
"""Z and radius, mm."""
Line = tuple[int, Place, Place]
"""The last straight cut: the tool's station, its start and its end."""

_LEAST = 1e-6
"""A cut that goes on by less than this, in mm, is left to the overlay."""


def goes_on(line: Line, start: Place, end: Place) -> bool:
    """Whether a straight way begins on a line along one axis and leads on beyond its end, exactly."""
    _, first, last = line
    # The axis across, which stands still, and the one along.
    across = 0 if first[0] == last[0] else 1
    along = 1 - across
    if not first[across] == last[across] == start[across] == end[across]:
        return False
    low, high = sorted((first[along], last[along]))
    beyond = end[along] - last[along]
    return low <= start[along] <= high and abs(beyond) > _LEAST and (beyond > 0) == (last[along] > first[along])


class Plunge:
    """A row of cuts along one line that are told and not yet taken off."""

    def __init__(self) -> None:
        self._fronts: dict[tuple[int, float, float], Points] = {}
        self._edge: Points | None = None
        self._station = 0
        self._from: Place = []
        self._to: Place = []

    def goes_on(self, section: Section, line: Line, end: Place, edge: Points) -> shapely.Geometry | None:
        """What a cut takes that leads on beyond a line to a place; None where not all of that is material, or the half section is parted there."""
        station, _, last = line
        if self._edge is not None and (self._station, self._to) != (station, last):
            # It may lie in the way of this one.
            self.end(section)
        way = end[0] - last[0], end[1] - last[1]
        key = station, float(np.sign(way[0])), float(np.sign(way[1]))
        if key not in self._fronts:
            self._fronts[key] = front_of(edge, np.array(way))
        front = self._fronts[key]
        taken = shapely.polygons(np.concatenate((front + end, front[::-1] + last)))
        if not section.holds(taken):
            return None
        if self._edge is None:
            self._edge, self._station, self._from = edge, station, last
        self._to = end
        return taken

    def end(self, section: Section, low: float = -np.inf, high: float = np.inf) -> None:
        """Take off what the row took, if it reaches between two places on Z."""
        if self._edge is None:
            return
        swept = swept_legs(self._edge, np.array([self._from]), np.array([self._to]))[0]
        box: Box = box_of(swept)
        if box[0] <= high and box[2] >= low:
            section.take(swept, box)
            self._edge = None
