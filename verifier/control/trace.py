"""What a program makes the machine do: moves in columns, events in order, and who set what.

A `Trace` is the pivot of the product: nothing after `control/` reads program text to decide what happens. Lengths are ticks (1e-8 mm),
X is the radius. A position is a *base* and a number: the base is "" for a known position, else the name of something that only the machine
knows ("X at reference"), and the number is the distance from it. Two equal bases stand for the same unknown.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from verifier.control.branches import Branch
from verifier.control.strokes import Kind

TICKS_PER_MM = 100_000_000
TICKS_PER_INCH = 2_540_000_000


class InForce(NamedTuple):
    """What is in force during a move. None means "not established"; text means a value only the machine knows.

    feed in mm/rev, mm/min, or (threads) mm of lead; speed in rev/min, or m/min of surface speed; clamp in rev/min.
    A rapid has no feed; without constant surface speed no clamp (unless the profile says that it limits every speed). `lead_change` (mm of
    lead in each revolution) and `start_angle` (degrees from the marker of the spindle) only threads have.
    """

    feed_mode: str | None
    feed: Fraction | str | None
    speed_mode: str | None
    speed: Fraction | str | None
    clamp: Fraction | str | None
    sense: str | None
    coolant: str | None
    tool: int | str | None
    offset: int | str | None
    work_offset: str | None
    frame: tuple[str, int, str, int]
    compensation: str | None
    plane: str | None
    path_mode: str | None
    auxiliaries: tuple[tuple[str, str], ...]
    lead_change: Fraction | str | None = None
    start_angle: Fraction | None = None


FIELDS = InForce._fields

SetBy = tuple[int, ...]
"""For each field of `InForce`, the origin (an index into `Origins`) that set it; -1 is the state before the program."""


@dataclass(frozen=True, slots=True)
class Origins:
    """Who set a value: origin k was written by block `block[k]`, on top of the origins `first[k]` and `second[k]` (-1: none).

    Incremental moves, cycles (with their contour) and called subprograms rest on more than one block: that is what the two links are for.
    """

    block: NDArray[np.int32]
    first: NDArray[np.int32]
    second: NDArray[np.int32]

    def blocks(self, origin: int, limit: int = 64) -> tuple[int, ...]:
        """The blocks behind an origin, nearest first, at most `limit` of them."""
        found: dict[int, None] = {}
        queue, seen = [origin], set[int]()
        while queue and len(found) < limit:
            here = queue.pop(0)
            if here < 0 or here in seen:
                continue
            seen.add(here)
            found.setdefault(int(self.block[here]))
            queue += [int(self.first[here]), int(self.second[here])]
        return tuple(found)


@dataclass(frozen=True, slots=True)
class Moves:
    """Every move, one row each (all arrays have the same length).

    `x0 z0 x1 z1` start and end; `bx0 bz0 bx1 bz1` their bases (index into `Trace.bases`, 0 = known); `cx cz` arc centre;
    `state` index into `Trace.states`; `set_by` index into `Trace.set_by`; `block`; `step` index into `Trace.steps` (0 = not a cycle);
    `remark` index into `Trace.remarks` (0 = none): words on the move that are not executed; `ends` whether single block would stop
    after it; `ox oz ok` origins of the end point's X and Z and of the kind of motion; `caller` index into `Trace.callers`.
    """

    kind: NDArray[np.int8]
    x0: NDArray[np.int64]
    z0: NDArray[np.int64]
    x1: NDArray[np.int64]
    z1: NDArray[np.int64]
    bx0: NDArray[np.int32]
    bz0: NDArray[np.int32]
    bx1: NDArray[np.int32]
    bz1: NDArray[np.int32]
    cx: NDArray[np.int64]
    cz: NDArray[np.int64]
    state: NDArray[np.int32]
    set_by: NDArray[np.int32]
    block: NDArray[np.int32]
    step: NDArray[np.int32]
    remark: NDArray[np.int32]
    ends: NDArray[np.bool_]
    ox: NDArray[np.int32]
    oz: NDArray[np.int32]
    ok: NDArray[np.int32]
    caller: NDArray[np.int32]

    def __len__(self) -> int:
        return len(self.kind)


class MoveRow(NamedTuple):
    """One move as plain Python values, in the order of the columns of `Moves`."""

    kind: Kind
    x0: int
    z0: int
    x1: int
    z1: int
    bx0: int
    bz0: int
    bx1: int
    bz1: int
    cx: int
    cz: int
    state: int
    set_by: int
    block: int
    step: int
    remark: int
    ends: bool
    ox: int
    oz: int
    ok: int
    caller: int


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happens between moves: `at` moves have been made before it, with what was in force then (`state`, `set_by`).

    `kind`: "tool", "stop", "optional-stop", "alarm", "dwell", "offset-write", "machine-code", "auxiliary", "momentary", "message",
    "variable" (a write that outlives the program), "system-read", "program-end", "text-end", "repeat", "unexecuted", "unreadable", "missing-program".
    `value` is comparable exactly between two traces; `certain` is False where nobody knows here what the machine does with it (such an event
    equals only itself).
    """

    kind: str
    value: str
    at: int
    block: int
    caller: int
    state: int
    set_by: int
    certain: bool = True
    origin: int = -1


@dataclass(frozen=True, slots=True)
class Unchecked:
    """Something that was not computed, not understood, or rests on a choice nobody verified, with the reason."""

    what: str
    reason: str
    block: int | None


@dataclass(frozen=True, slots=True)
class Fault:
    """Something wrong that execution met: a stable code, the block, a sentence, and how heavy it is for the caller to judge."""

    code: str
    block: int
    message: str
    text: str = ""


class Amount(NamedTuple):
    """An amount of a cycle: its exact value and its unit ("mm", "deg", "leads", or "" for a count)."""

    value: Fraction
    unit: str


@dataclass(frozen=True, slots=True)
class CycleCall:
    """A canned cycle as it was called: its code, the amounts it used by shop name, its contour's blocks, the moves it made.

    `set_by` are the blocks that gave the amounts (the first line of a two-block form and the cycle block itself).
    """

    code: str
    block: int
    amounts: Mapping[str, Amount]
    contour: tuple[int, ...]
    first_move: int
    moves: int
    set_by: tuple[int, ...] = ()
    name: str = ""
    """The code as this machine calls it; `code` is its meaning."""


@dataclass(frozen=True, slots=True)
class Trace:
    """Everything the machine does, in order, with provenance."""

    moves: Moves
    events: tuple[Event, ...]
    states: tuple[InForce, ...]
    set_by: tuple[SetBy, ...]
    bases: tuple[str, ...]
    steps: tuple[str, ...]
    remarks: tuple[str, ...]
    callers: tuple[tuple[int, int], ...]
    """Call chain: (calling block, index of the caller's own caller); entry 0 is (-1, -1), the program itself. A decision is one too, block -1."""
    decided: tuple[int, ...]
    """For each entry of `callers` the origin of the values by which it was decided to go on there, -1 where nothing was decided."""
    origins: Origins
    cycles: tuple[CycleCall, ...]
    called: tuple[tuple[int, str], ...]
    """Programs of the library that were called: number and SHA-256."""
    unchecked: tuple[Unchecked, ...]
    faults: tuple[Fault, ...]
    end: InForce
    end_set_by: SetBy
    end_units: str | None
    end_motion: tuple[str | None, int]
    """The code of the motion group left at the end, and the origin that set it."""
    end_distance: tuple[str | None, int]
    """Absolute coordinates or increments, as left at the end (code sets B and C), and the origin that set it."""
    executed: NDArray[np.bool_]
    """For each block of the program, whether it was executed. What a library program does counts for the block that called it."""
    flow_unknown: bool
    """Whether the order of execution rests on something that is not followed (a jump to an unknown place, more ways than the budget)."""
    first_pass: int
    """How many moves the first pass makes; more follow where the program repeats (M99) until its state repeats."""
    branches: tuple[Branch, ...]
    """Questions that only the machine can answer, in order, each with the answer that this run was followed with."""

    def rows(self) -> list[MoveRow]:
        """Every move as plain values, in order."""
        columns = [getattr(self.moves, name).tolist() for name in MoveRow._fields]
        kinds = {int(kind): kind for kind in Kind}
        return [MoveRow(kinds[row[0]], *row[1:]) for row in zip(*columns, strict=True)]


def millimetres(ticks: int) -> Fraction:
    """Ticks to millimetres, exactly."""
    return Fraction(ticks, TICKS_PER_MM)
