"""How far a sweep has come: what is left, what was met and what was not swept.

Kept at marks, so that a program with the same beginning goes on from there.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import zip_longest

import numpy as np
import shapely
from numpy.typing import NDArray

from verifier.control import InForce, Trace
from verifier.geometry.part import Contact, ThreadPass
from verifier.geometry.section import Section
from verifier.geometry.tool_changes import tool_changes


@dataclass(slots=True)
class Progress:
    """The state of a sweep between two moves. Geometries never change, so that a copy of the lists is a copy of everything.

    `gaps` holds for each thing and reason the first move and how many moves; those in `uncertain` leave the part uncertain. `entry` is where each
    drill went in, `cleared` the last straight cut (station, start, end), `loose` the pieces that were cut free.
    """

    section: Section
    contacts: list[Contact] = field(default_factory=list)
    gaps: dict[tuple[str, str], tuple[int, int]] = field(default_factory=dict)
    uncertain: set[tuple[str, str]] = field(default_factory=set)
    threads: list[shapely.Geometry] = field(default_factory=list)
    passes: list[ThreadPass] = field(default_factory=list)
    entry: dict[int, float] = field(default_factory=dict)
    cleared: tuple[int, list[float], list[float]] | None = None
    loose: list[shapely.Geometry] = field(default_factory=list)

    def copy(self) -> Progress:
        """The same state, to go on from without changing this one."""
        return Progress(
            self.section.copy(),
            list(self.contacts),
            dict(self.gaps),
            set(self.uncertain),
            list(self.threads),
            list(self.passes),
            dict(self.entry),
            self.cleared,
            list(self.loose),
        )


_COLUMNS = ("kind", "x0", "z0", "x1", "z1", "cx", "cz")
_BASES = ("bx0", "bz0", "bx1", "bz1")
_FIELDS = ("feed", "sense", "tool", "work_offset", "frame", "plane", "lead_change", "start_angle", "auxiliaries")


def moves_in_common(one: Trace, other: Trace) -> int:
    """With how many moves two traces begin that a sweep cannot tell apart (blocks and steps may differ)."""
    count = min(one.first_pass, other.first_pass)
    found = np.flatnonzero(~alike(one, other, count, 0))
    return min(int(found[0]) if len(found) else count, _changes_in_common(one, other))


def alike(one: Trace, other: Trace, count: int, offset: int) -> NDArray[np.bool_]:
    """Which of the first so many moves of one trace a sweep cannot tell from the move of another that stands `offset` further on.

    Of moves before the first of the other nothing is alike.
    """
    first = max(0, -offset)
    rows, others = slice(first, count), slice(first + offset, count + offset)
    same = np.zeros(count, np.bool_)
    if count > first:
        differ = np.zeros(count - first, np.bool_)
        for name in _COLUMNS:
            differ |= getattr(one.moves, name)[rows] != getattr(other.moves, name)[others]
        for name in (*_BASES, "remark"):
            differ |= (getattr(one.moves, name)[rows] != 0) != (getattr(other.moves, name)[others] != 0)
        same[rows] = ~(differ | _other_states(one, other, rows, others))
    return same


def _changes_in_common(one: Trace, other: Trace) -> int:
    """Before which move two traces first change their tools otherwise; the number of moves of the longer where they never do."""
    for mine, theirs in zip_longest(tool_changes(one), tool_changes(other)):
        if mine != theirs:
            return min(change.at for change in (mine, theirs) if change is not None)
    return max(len(one.moves), len(other.moves))


def _other_states(one: Trace, other: Trace, rows: slice, others: slice) -> NDArray[np.bool_]:
    pairs = one.moves.state[rows].astype(np.int64) * len(other.states) + other.moves.state[others]
    distinct, where = np.unique(pairs, return_inverse=True)
    unequal = [
        _swept_by(one.states[pair // len(other.states)]) != _swept_by(other.states[pair % len(other.states)])
        for pair in distinct.tolist()
    ]
    return np.asarray(np.array(unequal, np.bool_)[where], np.bool_)


def _swept_by(state: InForce) -> tuple[object, ...]:
    return tuple(getattr(state, name) for name in _FIELDS)
