"""Moves under compensation sorted into chains: where each enters the contour, follows it and leaves it, and what cannot be followed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import Enum

from verifier.control.compensation.journal import Note
from verifier.control.compensation.legs import LEFT, RIGHT, Leg, Role
from verifier.control.compensation.nose import NoseData
from verifier.control.strokes import Kind, Point
from verifier.control.trace import InForce, MoveRow

_SIDES = {"G41": LEFT, "G42": RIGHT}
_LOOK_AHEAD = 2
"""So many blocks without motion in the plane between two moves, and the control does not see the second one (common practice, no source)."""


class Part(Enum):
    """What becomes of one move."""

    STILL = "it goes nowhere"
    AS_WRITTEN = "it goes to its programmed end"
    UNKNOWN = "the tool's path is not known: the programmed one stands for it"
    LEG = "it is part of a chain"


@dataclass(slots=True)
class Step:
    """One move of a spell: its place in the spell, the move, its note (None: the move that leaves), and what becomes of it."""

    index: int
    row: MoveRow
    note: Note | None
    part: Part
    role: Role | None = None
    why: str = ""
    """For UNKNOWN what is missing; for an entry in mid-spell what it is due to."""


@dataclass(slots=True)
class Chain:
    """Consecutive legs made with one nose."""

    nose: NoseData
    steps: list[Step] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Habits:
    """The choices that decide where a chain begins: whether a change of side is made at the corner, and whether the look-ahead has no end."""

    side_at_corner: bool
    sees_all: bool


def side_of(state: InForce) -> int:
    """LEFT or RIGHT for a compensated state, 0 for any other."""
    return _SIDES.get(state.compensation or "", 0)


def chains(
    rows: Sequence[MoveRow], notes: Sequence[Note | None], states: Sequence[InForce], habits: Habits
) -> tuple[list[Step], list[Chain]]:
    """The steps of a spell in order, and its chains. The last row may be the uncompensated move that leaves; its note is None."""
    return _Sorter(states, habits).sort(rows, notes)


class _Sorter:
    def __init__(self, states: Sequence[InForce], habits: Habits) -> None:
        self._states, self._habits = states, habits
        self._steps: list[Step] = []
        self._chains: list[Chain] = []
        self._open: Chain | None = None

    def sort(self, rows: Sequence[MoveRow], notes: Sequence[Note | None]) -> tuple[list[Step], list[Chain]]:
        for index, (row, note) in enumerate(zip(rows, notes, strict=True)):
            step = self._leaving(index, row) if note is None else self._step(index, row, note)
            self._steps.append(step)
            if self._open is not None and step.part is Part.LEG:
                self._open.steps.append(step)
                if step.role is Role.EXIT:
                    self._open = None
        return self._steps, self._chains

    def _leaving(self, index: int, row: MoveRow) -> Step:
        """The move behind the spell, or one in it that is not compensated: an exit where the tool is on the offset path."""
        if self._open is None:
            return Step(index, row, None, Part.AS_WRITTEN)
        return Step(index, row, None, Part.LEG, Role.EXIT)

    def _step(self, index: int, row: MoveRow, note: Note) -> Step:
        why = "" if note.apart else self._cannot(row, note)
        if not note.apart and not why and _still(row):
            return Step(index, row, note, Part.STILL)
        if note.apart or why:
            step = self._leaving(index, row)
            step.note = note
            if why:
                # The tool is then taken to be where the program says; the chain before ends as it would before an exit.
                self._open, step.part, step.role, step.why = None, Part.UNKNOWN, None, why
            return step
        last = self._open.steps[-1].row if self._open is not None else None
        anew = self._anew(row, note, last)
        if last is None or anew:
            self._open = Chain(note.nose)
            self._chains.append(self._open)
            return Step(index, row, note, Part.LEG, Role.ENTRY, anew)
        if not _same_base(row):
            self._open = None
            return Step(index, row, note, Part.UNKNOWN, None, "the move starts or ends at a place that is not known")
        return Step(index, row, note, Part.LEG, Role.CONTOUR)

    def _anew(self, row: MoveRow, note: Note, last: MoveRow | None) -> str:
        """Why the contour is entered anew at a move although compensation was on already."""
        if last is None or self._open is None:
            return ""
        if note.nose != self._open.nose:
            return "the tool, its offset or its nose data change"
        if (row.bx0, row.x0, row.bz0, row.z0) != (last.bx1, last.x1, last.bz1, last.z1):
            return "the tool or the coordinates change"
        if self._states[row.state].compensation != self._states[last.state].compensation:
            return "" if self._habits.side_at_corner else SIDE_CHANGES
        return ""

    def _cannot(self, row: MoveRow, note: Note) -> str:
        """Why the tool's path cannot be worked out at a move."""
        plane = self._states[row.state].plane
        if plane in ("G17", "G19"):
            return f"in the plane {plane} compensation is not computed"
        if note.nose.missing:
            return note.nose.missing
        if row.kind.arc and (row.remark or not _same_base(row)):
            return "the arc itself is not known"
        return ""


SIDE_CHANGES = "the side changes"


def _still(row: MoveRow) -> bool:
    ends = (row.bx0, row.x0, row.bz0, row.z0) == (row.bx1, row.x1, row.bz1, row.z1)
    return ends and not (row.kind.arc and (row.cx, row.cz) != (row.x0, row.z0))


def _same_base(row: MoveRow) -> bool:
    return (row.bx0, row.bz0) == (row.bx1, row.bz1)


def legs_of(chain: Chain, states: Sequence[InForce], habits: Habits) -> list[Leg]:
    """A chain as legs: an entry or exit is straight, and one from a place that is not known starts at its own end."""
    made: list[Leg] = []
    for k, step in enumerate(chain.steps):
        row = step.row
        follows = chain.steps[k + 1] if k + 1 < len(chain.steps) else None
        straight = step.role is not Role.CONTOUR
        kind = row.kind if not straight or not row.kind.arc else Kind.FEED
        end = Point(row.x1, row.z1)
        start = Point(row.x0, row.z0) if _same_base(row) else end
        centre = Point(row.cx, row.cz) if kind.arc else None
        side = side_of(states[row.state]) or (made[-1].side if made else 0)
        made.append(Leg(kind, start, end, centre, step.role or Role.CONTOUR, side, _blind(step, follows, habits)))
    return made


def _blind(step: Step, follows: Step | None, habits: Habits) -> bool:
    """Whether too many blocks without motion stand behind a move for the control to see the next one."""
    return follows is not None and not habits.sees_all and many_between(step, follows)


def many_between(step: Step, follows: Step) -> bool:
    """Whether so many blocks without motion stand between two moves that a control may not see the second one."""
    if step.note is None or follows.note is None:
        return False
    return follows.note.blocks - step.note.blocks - 1 >= _LOOK_AHEAD
