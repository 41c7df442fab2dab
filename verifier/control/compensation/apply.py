"""Turns recorded moves into the tool's path: where compensation was on, each programmed move becomes what the machine steers the tip along."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from verifier.control.compensation.journal import Journal, Note
from verifier.control.compensation.legs import Leg, Offset, Piece, Role, Tip, Ways
from verifier.control.compensation.path import compensate
from verifier.control.compensation.spells import (
    SIDE_CHANGES,
    Chain,
    Habits,
    Part,
    Step,
    chains,
    legs_of,
    many_between,
)
from verifier.control.compensation.telling import Teller
from verifier.control.strokes import Kind, Point
from verifier.control.trace import FIELDS, InForce, MoveRow, SetBy
from verifier.machines import Machine

AS_PROGRAMMED = "the programmed path, not the tool's"
"""The remark on a move whose tool path is not known."""
_NOT_SEEN = "; the corner behind it is not looked ahead to"
NO_OFFSET = "the nose does not fit: a control stops here, or goes a way of its own"
"""The remark on a move that has no offset."""
_SETTERS = tuple(FIELDS.index(name) for name in ("compensation", "tool", "offset"))

Columns = dict[str, NDArray[Any]]


class Record(Protocol):
    """What is asked of the recorder."""

    def origin(self, block: int, first: int = -1, second: int = -1) -> int:
        """The origin for something that rests on two others."""
        ...

    def remark(self, text: str) -> int:
        """The number of a remark."""
        ...

    def unknown(self, what: str, reason: str, block: int | None) -> None:
        """Something is not checked."""
        ...

    def assume(self, machine: Machine, choice: str, block: int) -> str:
        """The value of a choice that mattered."""
        ...

    def fault(self, code: str, block: int, message: str, text: str = "") -> None:
        """Something is wrong."""
        ...


@dataclass(frozen=True, slots=True)
class Tables:
    """What the rows of the moves point into."""

    states: Sequence[InForce]
    set_by: Sequence[SetBy]
    remarks: Sequence[str]


def tool_path(
    columns: Columns, journal: Journal, tables: Tables, machine: Machine, record: Record
) -> tuple[Columns, NDArray[np.int64]]:
    """The columns of the moves as the tool goes, and for each programmed row (and the end) the row at which it now begins."""
    count = len(columns["kind"])
    starts = np.arange(count + 1)
    if not journal.notes:
        return columns, starts
    parts: list[Columns] = []
    done, sizes = 0, np.ones(count, np.int64)
    for first, notes in _spells(journal.notes):
        last = min(first + len(notes), count - 1)
        rows = list(_rows(columns, first, last + 1))
        noted: list[Note | None] = [*notes, *([None] if last == first + len(notes) else [])]
        made = _Spell(tables, machine, record).run(rows, noted)
        sizes[first : last + 1] = [len(one) for one in made]
        parts.append({name: column[done:first] for name, column in columns.items()})
        parts.append(_columns([row for one in made for row in one], columns))
        done = last + 1
    parts.append({name: column[done:] for name, column in columns.items()})
    starts[1:] = np.cumsum(sizes)
    return {name: np.concatenate([part[name] for part in parts]) for name in columns}, starts


def _spells(notes: Sequence[Note]) -> Iterator[tuple[int, list[Note]]]:
    """Runs of consecutive rows under compensation: the first row and the notes."""
    run: list[Note] = []
    for note in notes:
        if run and note.row != run[-1].row + 1:
            yield run[0].row, run
            run = []
        run.append(note)
    if run:
        yield run[0].row, run


def _rows(columns: Mapping[str, NDArray[Any]], first: int, end: int) -> Iterator[MoveRow]:
    lists = [columns[name][first:end].tolist() for name in MoveRow._fields]
    for row in zip(*lists, strict=True):
        yield MoveRow(Kind(row[0]), *row[1:])


def _columns(rows: list[MoveRow], like: Columns) -> Columns:
    return {name: np.array([row[k] for row in rows], dtype=like[name].dtype) for k, name in enumerate(MoveRow._fields)}


class _Spell:
    """One run of moves under compensation, with the move behind it."""

    def __init__(self, tables: Tables, machine: Machine, record: Record) -> None:
        self._tables, self._machine, self._record = tables, machine, record
        self._habits = Habits(
            side_at_corner=machine.choice("compensation-side-change") == "at-the-corner",
            sees_all=machine.choice("compensation-look-ahead") == "unlimited",
        )
        least = min(machine.increments.mm, machine.increments.inch * 254 / 10)
        self._ways = Ways(
            arc_corners=machine.choice("compensation-outer-corner") == "arc",
            square_entry=machine.choice("compensation-entry") == "square",
            small=round(least * 100_000_000),
        )
        self._teller = Teller(machine, record)
        self._off = (0, 0)
        """How far the tool is from the programmed place, X and Z."""

    def run(self, rows: Sequence[MoveRow], notes: Sequence[Note | None]) -> list[list[MoveRow]]:
        steps, found = chains(rows, notes, self._tables.states, self._habits)
        made: dict[int, tuple[tuple[Piece, ...], int]] = {}
        for chain in found:
            self._chain(chain, made)
        told: set[str] = set()
        result = []
        for step in steps:
            follows = steps[step.index + 1] if step.index + 1 < len(steps) else None
            if step.part is Part.UNKNOWN and step.why not in told:
                told.add(step.why)
                self._teller.unknown(step.row, self._tables.states, step.why)
            result.append(self._step(step, follows, made))
        return result

    # -- chains -----------------------------------------------------------------------------------------------------------

    def _chain(self, chain: Chain, made: dict[int, tuple[tuple[Piece, ...], int]]) -> None:
        legs = legs_of(chain, self._tables.states, self._habits)
        tip = Tip.of(chain.nose.radius or 0, chain.nose.orientation or 0)
        offset = compensate(legs, tip, self._ways)
        self._choices(chain, legs, offset)
        self._teller.chain(chain, legs, tip, offset, self._tables.states)
        sees = set(offset.sees_next)
        for k, (step, pieces) in enumerate(zip(chain.steps, offset.pieces, strict=True)):
            origin = self._origin(chain, k, sees)
            unsure = k in offset.unsure or self._teller.arc_cannot_turn(step) or _nowhere(legs[k], step, k in sees)
            step.why = NO_OFFSET if unsure else ""
            made[step.index] = (pieces, origin)

    def _choices(self, chain: Chain, legs: Sequence[Leg], offset: Offset) -> None:
        """Choices that mattered are told where nobody verified them."""
        if not chain.nose.radius:
            return
        first = chain.steps[0]
        assume = self._record.assume
        assume(self._machine, "compensation-entry", first.row.block)
        sides = {leg.side for leg in legs}
        if len(sides) > 1 or first.why == SIDE_CHANGES:
            assume(self._machine, "compensation-side-change", first.row.block)
        if offset.outer:
            assume(self._machine, "compensation-outer-corner", chain.steps[offset.outer[0]].row.block)
        for one, other in zip(chain.steps, chain.steps[1:], strict=False):
            if many_between(one, other):
                assume(self._machine, "compensation-look-ahead", one.row.block)

    def _origin(self, chain: Chain, k: int, sees: set[int]) -> int:
        """Who shaped the end of a leg: its own words and where it starts, the leg behind it, and who set compensation, tool and nose."""
        row = chain.steps[k].row
        setters = self._tables.set_by[row.set_by]
        rests: dict[int, None] = dict.fromkeys((row.ox, row.oz))
        if k:
            before = chain.steps[k - 1].row
            rests.update(dict.fromkeys((before.ox, before.oz)))
        if k in sees:
            behind = chain.steps[k + 1].row
            rests.update(dict.fromkeys((behind.ox, behind.oz)))
        rests.update(dict.fromkeys((*(setters[field] for field in _SETTERS), chain.nose.origin)))
        # The origin's own block is none: a change of any of these leads to its edit, not only the nearest one.
        found = -1
        for one in reversed([origin for origin in rests if origin >= 0]):
            found = self._record.origin(-1, one, found)
        return found

    # -- rows -------------------------------------------------------------------------------------------------------------

    def _step(
        self, step: Step, follows: Step | None, made: Mapping[int, tuple[tuple[Piece, ...], int]]
    ) -> list[MoveRow]:
        row, (dx, dz) = step.row, self._off
        if step.part is Part.LEG:
            return self._pieces(step, *made[step.index])
        moved = row._replace(x0=row.x0 + dx, z0=row.z0 + dz)
        if step.part is Part.STILL:
            return [moved._replace(x1=moved.x0, z1=moved.z0)]
        self._off = (0, 0)
        if step.part is Part.UNKNOWN:
            seen = follows is None or not many_between(step, follows)
            moved = self._remarked(moved, AS_PROGRAMMED + ("" if seen else _NOT_SEEN))
        return [moved]

    def _pieces(self, step: Step, pieces: tuple[Piece, ...], origin: int) -> list[MoveRow]:
        row, (dx, dz) = step.row, self._off
        here, bases = Point(row.x0 + dx, row.z0 + dz), (row.bx0, row.bz0)
        made = []
        for k, piece in enumerate(pieces):
            last = k == len(pieces) - 1
            leaves = last and step.role is Role.EXIT
            one = row._replace(
                kind=piece.kind, x0=here.x, z0=here.z, bx0=bases[0], bz0=bases[1], x1=piece.end.x, z1=piece.end.z,
                cx=piece.centre.x if piece.centre else 0, cz=piece.centre.z if piece.centre else 0,
                ends=row.ends and last, ox=row.ox if leaves else origin, oz=row.oz if leaves else origin,
            )  # fmt: skip
            if not leaves and step.role is Role.EXIT:
                one = one._replace(bx1=row.bx0, bz1=row.bz0)
            made.append(self._remarked(one, step.why) if step.why else one)
            here, bases = piece.end, (one.bx1, one.bz1)
        self._off = (0, 0) if step.role is Role.EXIT else (here.x - row.x1, here.z - row.z1)
        return made

    def _remarked(self, row: MoveRow, text: str) -> MoveRow:
        before = self._tables.remarks[row.remark]
        return row._replace(remark=self._record.remark(f"{before} {text}".strip()))


def _nowhere(leg: Leg, step: Step, seen: bool) -> bool:
    """Whether an entry from a place that is not known has no leg behind it to end at."""
    return step.role is Role.ENTRY and leg.start == leg.end and not seen


__all__ = ["AS_PROGRAMMED", "NO_OFFSET", "Record", "Tables", "tool_path"]
