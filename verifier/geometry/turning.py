"""Sweeps the moves of a trace through the stock of its setup sheet, in order.

A tool that the sheet does not describe is not swept, and that is said (`Gap`), never invented. What a rapid meets is what is left at that
moment. Threads leave their crests as they were turned: their passes are kept apart.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from verifier.control import Kind, Trace
from verifier.geometry.one_move import OneMove
from verifier.geometry.part import (
    Gap,
    TurnedPart,
    doubts_of,
)
from verifier.geometry.paths import Path
from verifier.geometry.place import UNKNOWN_PLACE, home_of
from verifier.geometry.progress import Progress, moves_in_common
from verifier.geometry.sharing import Sharing
from verifier.geometry.tool_changes import tool_changes
from verifier.geometry.tool_outline import ToolOutline
from verifier.geometry.turret import NOT_PLACED
from verifier.geometry.unmade import REASON, made_alike, unmade
from verifier.machines import Machine, Setup, Stock, Tool

Mark = tuple[int, Progress]


@dataclass(frozen=True, eq=False)
class Swept:
    """A trace, the part that it turns, and marks on the way: before which move the sweep stood how."""

    trace: Trace
    part: TurnedPart
    marks: tuple[Mark, ...]
    quiet: NDArray[np.bool_]
    """Moves of which the part's columns say all: they met nothing, and nothing had to be said of them."""
    stretch: NDArray[np.float64]
    """From where to where on Z each move reaches with its tool and holder, mm."""
    bent: Mapping[int, Path]
    """The paths along arcs, by move."""


def turned_part(trace: Trace, machine: Machine, setup: Setup | None) -> TurnedPart | None:
    """Sweep the first pass of a trace through the stock of its setup sheet; None where there is no stock."""
    found = sweep(trace, machine, setup)
    return found.part if found is not None else None


def sweep(trace: Trace, machine: Machine, setup: Setup | None, like: Iterable[Swept] = ()) -> Swept | None:
    """The same with its marks. `like`: sweeps on the same machine with the same sheet; what begins like one of them is not swept again."""
    if setup is None or setup.stock is None:
        return None
    run = _Run(trace, machine, setup, setup.stock)
    common = [
        (min(moves_in_common(other.trace, trace), made_alike(other.trace, trace, machine)), k, other)
        for k, other in enumerate(like)
    ]
    if common:
        count, _, other = max(common, key=lambda entry: entry[:2])
        run.go_on(count, other)
    return run.swept()


_MARKS, _MARK_LEAST, _MARK_MOST = 64, 16, 1024
"""How many marks a sweep keeps about, and the least and the greatest number of moves between two of them."""


class _Run(OneMove):
    """One sweep of one trace."""

    def __init__(self, trace: Trace, machine: Machine, setup: Setup, stock: Stock) -> None:
        super().__init__(trace, machine, setup, stock)
        self._raw, self._tools = stock, setup.tools
        self._first = 0
        self._marks: list[Mark] = []
        self._quiet = np.zeros(len(trace.moves), np.bool_)
        self._shared: Sharing | None = None
        self._changes = list(tool_changes(trace))
        self._not_made = list(unmade(trace, machine))

    def go_on(self, count: int, other: Swept) -> None:
        """Begin at the last mark of another sweep that lies within the first so many moves."""
        if home_of(other.trace, self._setup) != home_of(self._trace, self._setup):
            return
        self._marks = [mark for mark in other.marks if mark[0] <= count]
        if self._marks:
            self._first, progress = self._marks[-1]
            self._now = progress.copy()
            part = other.part
            for k, column in enumerate((part.area, part.volume, part.across, part.depth)):
                self._columns[: self._first, k] = column[: self._first]
            self._unswept[: self._first] = other.part.unswept[: self._first]
            self._quiet[: self._first] = other.quiet[: self._first]
        self._shared = Sharing(self._trace, other, self._first)
        self._paths.lend(self._shared.of_partners(other.bent))

    def swept(self) -> Swept:
        every = min(max(self._trace.first_pass // _MARKS, _MARK_LEAST), _MARK_MOST)
        if self._shared is not None:
            # Where the other sweep has a mark nothing is put off any more: better there than a little before it.
            every *= 2
        last = self._first
        for row in self._rows():
            joined = self._next(*row)
            if joined or row[0] - last >= every:
                last = row[0] + 1
                self._up_to_date()
                self._marks.append((last, self._now.copy()))
        self._join(self._trace.first_pass)
        self._up_to_date()
        self._take_columns()
        self._marks.append((self._trace.first_pass, self._now.copy()))
        # What lies behind the last move comes after the mark: another program may go on without it.
        self._not_made_before(self._trace.first_pass + 1)
        self._changes_before(self._trace.first_pass + 1)
        self._taken.measure()
        return Swept(self._trace, self._part(), tuple(self._marks), self._quiet, self._nearby.stretch, self._paths.bent)

    def _next(self, k: int, kind: Kind, tool: Tool, outline: ToolOutline) -> bool:
        """Go over one move, or take over what another sweep found of it; whether the other had a mark there."""
        stretch = self._nearby.stretch[k, 0].item(), self._nearby.stretch[k, 1].item()
        joined = self._join(k)
        if self._shared is not None and not self._now.loose and self._shared.same(k, stretch):
            self._take_over(k, kind, tool, self._shared)
            return joined
        self._caught_up(*stretch)
        self._quiet[k] = self._is_quiet(k, kind, tool, outline)
        if self._shared is not None and kind is not Kind.RAPID:
            # After a cut that both make they may be the same again, after one that only this one makes they are apart.
            (self._shared.together if self._shared.partner(k) >= 0 else self._shared.apart).add(*stretch)
        return joined

    def _join(self, k: int) -> bool:
        """Come to where the other sweep stands, before a move: what only it cut, and what it has left at a mark. Whether it has one there."""
        if self._shared is None:
            return False
        mark = self._shared.mark_at(k)
        if mark is not None:
            at, progress = mark
            self._plunge.end(self._now.section)
            self._fall_apart(at)
            if not self._now.loose:
                self._shared.compare(self._now.section, progress.section)
                if self._put_off:
                    self._now.section = self._shared.joined(self._now.section, progress.section)
                self._put_off = []
        partner = self._shared.partner(k) if k < self._trace.first_pass else -1
        if partner >= 0:
            self._fall_apart(partner)
        return mark is not None

    def _fall_apart(self, before: int) -> None:
        assert self._shared is not None
        for low, high in self._shared.cuts_of_the_other(before):
            self._up_to_date(low, high)
            self._shared.apart.add(low, high)

    def _take_over(self, k: int, kind: Kind, tool: Tool, shared: Sharing) -> None:
        self._quiet[k] = True
        if shared.take_over(k):
            self._put_off.append(k)
        if kind is not Kind.RAPID:
            start, end = self._places.start[k].tolist(), self._places.end[k].tolist()
            self._now.cleared = (tool.station, start, end) if not kind.arc and start != end else None

    def _take_columns(self) -> None:
        if self._shared is not None and self._shared.taken_over:
            mine, theirs = np.array(self._shared.taken_over).T
            self._columns[mine] = self._shared.columns[theirs]

    def _part(self) -> TurnedPart:
        now, blocks = self._now, self._trace.moves.block
        gaps = tuple(
            Gap(int(blocks[move]) if move >= 0 else -1 - move, what, reason, count, (what, reason) in now.uncertain)
            for (what, reason), (move, count) in sorted(now.gaps.items(), key=lambda entry: (entry[1][0], entry[0]))
        )
        area, volume, across, depth = self._columns.T
        whole = now.section.whole()
        if now.loose:
            whole = shapely.union_all([whole, *now.loose])
        return TurnedPart(
            area,
            volume,
            across,
            depth,
            self._unswept,
            whole,
            self._stock,
            tuple(now.passes),
            tuple(now.contacts),
            (*doubts_of(self._raw), *self._room.gaps, *gaps),
            tuple(now.loose),
        )

    def _rows(self) -> Iterator[tuple[int, Kind, Tool, ToolOutline]]:
        """The moves that come near the piece or a keep-out, each with its tool; the others are passed over, or told where they are not known."""
        moves, trace, why = self._trace.moves, self._trace, self._places.why
        kinds, codes, states = {int(kind): kind for kind in Kind}, moves.kind.tolist(), moves.state.tolist()
        near, beside = self._nearby.near.tolist(), self._nearby.beside.tolist()
        stations = [state.tool for state in trace.states]
        for k in range(self._first, trace.first_pass):
            if self._changes:
                self._changes_before(k + 1)
            if self._not_made:
                self._not_made_before(k + 1)
            if not (near[k] or beside[k] or why[k]):
                continue
            kind, station = kinds[codes[k]], stations[states[k]]
            if beside[k] and not why[k] and isinstance(station, int):
                self._neighbours(k, kind, station)
            if why[k]:
                if why[k] != UNKNOWN_PLACE or kind is not Kind.RAPID or self._ends_near(k):
                    self._gap("rapids" if kind is Kind.RAPID else "cuts", why[k], k, cuts=kind is not Kind.RAPID)
                continue
            if not near[k]:
                continue
            tool = self._tools.get(station) if isinstance(station, int) else None
            if tool is None:
                self._no_tool(station, kind, k)
                continue
            outline = self._outlines[tool.station]
            if isinstance(outline, str):
                self._gap(f"T{tool.station}", outline, k, cuts=kind is not Kind.RAPID)
                continue
            for lack in (*outline.missing, *(() if self._room.knows(tool.station) else (NOT_PLACED,))):
                self._gap(f"T{tool.station}", lack, k, cuts=False)
            yield k, kind, tool, outline

    def _not_made_before(self, k: int) -> None:
        """What comes before a move and may take material off, but could not be made: from there on what is left is not certain."""
        while self._not_made and self._not_made[0].at < k:
            missing = self._not_made.pop(0)
            if missing.at >= self._first:
                first, count = self._now.gaps.get((missing.what, REASON), (-1 - missing.block, 0))
                self._now.gaps[(missing.what, REASON)] = (first, count + 1)
                self._now.uncertain.add((missing.what, REASON))

    def _no_tool(self, station: object, kind: Kind, k: int) -> None:
        what = f"T{station}" if isinstance(station, int) else "the tool"
        reason = "it is not in the setup sheet" if isinstance(station, int) else "which one it is is not established"
        self._gap(what, reason, k, cuts=kind is not Kind.RAPID)

    def _ends_near(self, k: int) -> bool:
        """Whether a rapid from an unknown place ends where something may be on its way: any known end is."""
        moves = self._trace.moves
        return int(moves.bx1[k]) == 0 and int(moves.bz1[k]) == 0

    def _changes_before(self, k: int) -> None:
        """The tool changes that come before a move and have not been looked at."""
        while self._changes and self._changes[0].at < k:
            change = self._changes.pop(0)
            if change.at and change.at >= self._first:
                self._change(change)
