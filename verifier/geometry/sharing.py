"""What a sweep may take over from another on the same stock, after the two parted.

A move takes off, and meets, what is left at its place. So a move that both make gives the same in both where what is left is the same within its
reach. The stretches of Z where it may differ (`apart`) begin empty, at the place up to which everything is in common; a cut that only one side
makes adds its reach. At the marks of the other sweep both half sections are compared, and what has become equal again is left out.

Left alone, and swept in full: what another sweep met or said anything of, drills and threads (they remember), and all once a piece was cut free.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, TypeVar

import numpy as np
from numpy.typing import NDArray

from verifier.control import Trace
from verifier.geometry.progress import Progress, alike
from verifier.geometry.section import Section
from verifier.geometry.spans import Spans

if TYPE_CHECKING:
    from verifier.geometry.turning import Swept

T = TypeVar("T")

_LONGEST_PAUSE = 15


def partners(trace: Trace, other: Trace) -> NDArray[np.int64]:
    """For each move of a trace the move of another that a sweep cannot tell from it, ascending; -1 where there is none.

    Moves are counted from the start, and where the traces are not equally long, from the end for those behind all that differs.
    """
    count, others = trace.first_pass, other.first_pass
    found = np.full(count, -1, np.int64)
    if count == others:
        same = alike(trace, other, count, 0)
        found[same] = np.flatnonzero(same)
        return found
    least = min(count, others)
    differ = np.flatnonzero(~alike(trace, other, least, 0))
    head = int(differ[0]) if len(differ) else least
    found[:head] = np.arange(head)
    differ = np.flatnonzero(~alike(trace, other, count, others - count))
    # No move is taken twice.
    tail = max(int(differ[-1]) + 1 if len(differ) else 0, head, head + count - others)
    found[tail:] = np.arange(tail, count) + others - count
    return found


class Sharing:
    """One sweep beside another: which moves it takes over, and where the two are apart."""

    def __init__(self, trace: Trace, other: Swept, first: int) -> None:
        self._other = other
        found = partners(trace, other.trace)
        self._partner: list[int] = found.tolist()
        self._quiet: list[bool] = other.quiet.tolist()
        self.apart, self.together = Spans(), Spans()
        self._pause = self._paused = 0
        self.taken_over: list[tuple[int, int]] = []
        part = other.part
        self.columns = np.stack((part.area, part.volume, part.across, part.depth), 1)
        whole = [mark for mark in other.marks if not mark[1].loose]
        self._limit = whole[-1][0] if whole else 0
        back = {theirs: mine for mine, theirs in enumerate(self._partner) if theirs >= 0}
        back[other.trace.first_pass] = trace.first_pass
        self._marks = [(back[at], at, progress) for at, progress in whole if back.get(at, -1) >= first]
        self._next_mark = 0
        # Cuts that only the other side makes.
        only = np.ones(other.trace.first_pass, np.bool_)
        only[found[found >= 0]] = False
        only[:first] = False
        self._only = np.flatnonzero(only & (other.part.area[: len(only)] > 0)).tolist()
        self._next_only = 0

    def partner(self, move: int) -> int:
        """The move of the other sweep, or -1."""
        return self._partner[move]

    def of_partners(self, by_move: Mapping[int, T]) -> dict[int, T]:
        """What the other sweep holds by its own moves, by the moves of this one."""
        return {mine: by_move[theirs] for mine, theirs in enumerate(self._partner) if theirs in by_move}

    def same(self, move: int, stretch: tuple[float, float]) -> bool:
        """Whether a move that reaches so far along Z takes off what its partner took, and like that meets nothing and leaves nothing to say."""
        partner = self._partner[move]
        return 0 <= partner < self._limit and self._quiet[partner] and not self.apart.touch(*stretch)

    def take_over(self, move: int) -> bool:
        """Note that a move is taken over; whether it takes something off."""
        partner = self._partner[move]
        self.taken_over.append((move, partner))
        return bool(self.columns[partner, 0] > 0)

    def cuts_of_the_other(self, before: int) -> list[tuple[float, float]]:
        """How far along Z the cuts reach that only the other side made before a move of its own, each told once."""
        found = []
        while self._next_only < len(self._only) and self._only[self._next_only] < before:
            z0, z1 = self._other.stretch[self._only[self._next_only]].tolist()
            found.append((z0, z1))
            self._next_only += 1
        return found

    def mark_at(self, move: int) -> tuple[int, Progress] | None:
        """The other sweep's last mark at or before a move of this one, by its own number, each told once."""
        found = None
        while self._next_mark < len(self._marks) and self._marks[self._next_mark][0] <= move:
            found = self._marks[self._next_mark][1:]
            self._next_mark += 1
        return found

    def compare(self, section: Section, other: Section) -> None:
        """Leave out of `apart` where both half sections are the same again: they are looked at where both made a cut since they last were."""
        due = self.apart.common(self.together)
        if not len(due):
            return
        if self._paused:
            self._paused -= 1
            return
        found = section.apart(other, due)
        self.apart, self.together = Spans((*self.apart.without(due), *found)), Spans()
        # Comparing costs, too: it waits longer each time that it is in vain.
        self._pause = 0 if found.length < due.length / 2 else min(2 * self._pause + 1, _LONGEST_PAUSE)
        self._paused = self._pause

    def joined(self, section: Section, other: Section) -> Section:
        """The half section of this sweep, made up to date from the other's where the two are not apart."""
        return section.with_part_of(other, self.apart) if len(self.apart) else other.copy()
