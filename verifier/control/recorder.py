"""Collects moves, events and their provenance while a program is executed, and turns them into a `Trace`."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import replace
from typing import Any, Generic, TypeVar

import numpy as np
from numpy.typing import NDArray

from verifier.control.branches import Branch
from verifier.control.compensation.apply import Tables, tool_path
from verifier.control.compensation.journal import Journal
from verifier.control.state import Coordinate, Modal
from verifier.control.strokes import Kind, Point
from verifier.control.trace import (
    CycleCall,
    Event,
    Fault,
    InForce,
    MoveRow,
    Moves,
    Origins,
    SetBy,
    Trace,
    Unchecked,
)
from verifier.machines import CHOICES, Machine

T = TypeVar("T", bound=Hashable)

_MANY = 1 << 16
_CHAIN = 128

_TYPES: dict[str, Any] = {
    "kind": np.int8,
    "ends": np.bool_,
    **dict.fromkeys(("x0", "z0", "x1", "z1", "cx", "cz"), np.int64),
}


class Table(Generic[T]):
    """Distinct values in order of first use; `number` gives each its index."""

    def __init__(self, *first: T) -> None:
        self.values: list[T] = list(first)
        self._index: dict[T, int] = {value: k for k, value in enumerate(first)}

    def number(self, value: T) -> int:
        """The index of `value`, given a new one where it is new."""
        found = self._index.get(value)
        if found is None:
            found = self._index[value] = len(self.values)
            self.values.append(value)
        return found


class Recorder:
    """Receives what happens, in order. One per execution."""

    def __init__(self, blocks: int, *, clamp_always: bool, dry: bool = False) -> None:
        self.rows: list[tuple[Any, ...]] = []
        """The moves since the columns were last settled; every move of the block being executed is among them."""
        self._settled: list[list[NDArray[Any]]] = []
        self._settled_count = 0
        self.events: list[Event] = []
        self.unchecked: dict[tuple[str, str, int | None], Unchecked] = {}
        self.faults: dict[Fault, None] = {}
        self.cycles: list[CycleCall] = []
        self.called: dict[tuple[int, str], None] = {}
        self.executed = np.zeros(blocks, np.bool_)
        self.flow_unknown = False
        self.first_pass: int | None = None
        self.branches: list[Branch] = []
        self.journal = Journal()
        """What was noted down about moves under nose compensation."""
        self._states: Table[InForce] = Table()
        self._set_by: Table[SetBy] = Table()
        self._bases: Table[str] = Table("")
        self._steps: Table[str] = Table("")
        self._remarks: Table[str] = Table("")
        self._callers: Table[tuple[int, int, int]] = Table((-1, -1, -1))
        self._origins: Table[tuple[int, int, int]] = Table()
        self._shortened: dict[tuple[int, int, int], int] = {}
        self._dry = dry
        self.again = False
        """Whether the block being executed was executed before."""
        self._clamp_always = clamp_always
        self._assumed: set[str] = set()
        self._in_force: dict[str, tuple[Modal, int, tuple[int, int]]] = {}

    @property
    def count(self) -> int:
        """How many moves have been recorded."""
        return self._settled_count + len(self.rows)

    def settle(self) -> None:
        """Between blocks: moves recorded so far go into columns once there are many, a tenth of the room that rows take."""
        if len(self.rows) >= _MANY:
            self._settled.append(_columns(self.rows))
            self._settled_count += len(self.rows)
            self.rows = []

    def origin(self, block: int, first: int = -1, second: int = -1) -> int:
        """The origin for something that `block` set, resting on up to two earlier origins."""
        key = (block, first, second)
        if first < 0 or not self.again or self._dry:
            return self._origins.number(key)
        known = self._shortened.get(key)
        if known is None:
            known = self._shortened[key] = self._without_repeats(key)
        return known

    def all_of(self, *origins: int) -> int:
        """One origin for something that rests on all of these alike, so that a change of one does not hide a change of another; -1 for none."""
        found = -1
        for origin in origins:
            if origin >= 0:
                found = origin if found < 0 else self.origin(-1, origin, found)
        return found

    def _without_repeats(self, key: tuple[int, int, int]) -> int:
        """The origin without an older one of its own block a little further back: increments in a loop make no chain without end."""
        block, at, second = key[0], key[1], key[2]
        above: list[tuple[int, int, int]] = []
        while at >= 0 and len(above) < _CHAIN:
            entry = self._origins.values[at]
            if entry[0] == block and entry[2] == second:
                base = entry[1]
                for between in reversed(above):
                    base = self._origins.number((between[0], base, between[2]))
                return self._origins.number((block, base, second))
            above.append(entry)
            at = entry[1]
        return self._origins.number(key)

    def caller(self, block: int, outer: int, rests: int = -1) -> int:
        """The call chain entry for a call from `block` inside chain `outer`; for a decision (block -1) `rests` is the origin behind it."""
        return self._callers.number((block, outer, rests))

    def state(self, modal: Modal, kind: Kind) -> tuple[int, int]:
        """Indices of what is in force for a move of this kind now, and of who set it."""
        group = "rapid" if kind is Kind.RAPID else "thread" if kind is Kind.THREAD else "cut"
        known = self._in_force.get(group)
        if known is not None and known[0] is modal and known[1] == modal.version:
            return known[2]
        state, set_by = modal.in_force(kind, clamp_always=self._clamp_always)
        found = (self._states.number(state), self._set_by.number(set_by))
        self._in_force[group] = (modal, modal.version, found)
        return found

    def move(
        self,
        kind: Kind,
        start: tuple[Coordinate, Coordinate],
        end: tuple[Coordinate, Coordinate],
        *,
        in_force: tuple[int, int],
        block: int,
        origins: tuple[int, int, int],
        centre: Point | None = None,
        step: str = "",
        remark: str = "",
        ends: bool = True,
        caller: int = 0,
    ) -> None:
        """Record one move from `start` to `end`; `origins` of its end's X, its end's Z and its kind."""
        base = self._bases.number
        (x0, z0), (x1, z1) = start, end
        self.rows.append(
            (
                int(kind), x0.ticks, z0.ticks, x1.ticks, z1.ticks, base(x0.base), base(z0.base), base(x1.base), base(z1.base),
                centre.x if centre else 0, centre.z if centre else 0, in_force[0], in_force[1], block,
                self._steps.number(step), self._remarks.number(remark), ends, *origins, caller,
            )
        )  # fmt: skip

    def event(
        self,
        kind: str,
        value: str,
        block: int,
        caller: int,
        *,
        in_force: tuple[int, int],
        certain: bool = True,
        origin: int = -1,
    ) -> None:
        """Record one event after the moves so far."""
        self.events.append(Event(kind, value, self.count, block, caller, *in_force, certain, origin))

    def remark(self, text: str) -> int:
        """The number of a remark on a move."""
        return self._remarks.number(text)

    def unknown(self, what: str, reason: str, block: int | None) -> None:
        """Record something that is not checked; the same thing at one block once."""
        self.unchecked.setdefault((what, reason, block), Unchecked(what, reason, block))

    def assume(self, machine: Machine, choice: str, block: int) -> str:
        """The value of a profile's choice that matters here; told once among the unchecked where nobody verified it."""
        value = machine.choice(choice)
        if choice not in self._assumed and not machine.is_verified(choice):
            self._assumed.add(choice)
            self.unknown(
                f"choice {choice} = {value}", f"nobody verified it at the machine: {CHOICES[choice].question}", block
            )
        return value

    def fault(self, code: str, block: int, message: str, text: str = "") -> None:
        """Record something wrong; the same fault at one block once."""
        self.faults.setdefault(Fault(code, block, message, text))

    def mark_ends(self, first: int) -> None:
        """Of the moves recorded since `first`, only the last one is where single block stops."""
        for k in range(first - self._settled_count, len(self.rows) - 1):
            self.rows[k] = (*self.rows[k][:16], False, *self.rows[k][17:])

    def join_last(self) -> None:
        """The last move goes on from the one before it without a stop: single block does not stop between them."""
        if len(self.rows) > 1:
            self.rows[-2] = (*self.rows[-2][:16], False, *self.rows[-2][17:])

    def trace(self, modal: Modal, machine: Machine | None = None) -> Trace:
        """Everything recorded, as an immutable trace; `modal` is the state at the end.

        With the machine, moves under nose compensation are those of the tool; without it, as programmed.
        """
        parts = [*self._settled, _columns(self.rows)]
        arrays = {name: np.concatenate([part[k] for part in parts]) for k, name in enumerate(MoveRow._fields)}
        if machine is not None and self.journal.notes:
            arrays = self._as_the_tool_goes(arrays, machine)
        links = np.array(self._origins.values or np.zeros((0, 3)), dtype=np.int32).reshape(-1, 3)
        end, end_set_by = modal.left()
        return Trace(
            moves=Moves(**arrays),
            events=tuple(self.events),
            states=tuple(self._states.values),
            set_by=tuple(self._set_by.values),
            bases=tuple(self._bases.values),
            steps=tuple(self._steps.values),
            remarks=tuple(self._remarks.values),
            callers=tuple(entry[:2] for entry in self._callers.values),
            decided=tuple(entry[2] for entry in self._callers.values),
            origins=Origins(*(np.ascontiguousarray(links[:, k]) for k in range(3))),
            cycles=tuple(self.cycles),
            called=tuple(sorted(self.called)),
            unchecked=tuple(self.unchecked.values()),
            faults=tuple(self.faults),
            end=end,
            end_set_by=end_set_by,
            end_units=modal.values.get("units"),
            end_motion=(modal.values.get("motion"), modal.origins.get("motion", -1)),
            end_distance=(modal.values.get("distance"), modal.origins.get("distance", -1)),
            executed=self.executed,
            flow_unknown=self.flow_unknown,
            first_pass=self.count if self.first_pass is None else self.first_pass,
            branches=tuple(self.branches),
        )

    def _as_the_tool_goes(self, arrays: dict[str, NDArray[Any]], machine: Machine) -> dict[str, NDArray[Any]]:
        """The moves under compensation worked out, and all that counts moves counted anew."""
        self.again = False
        tables = Tables(self._states.values, self._set_by.values, self._remarks.values)
        arrays, starts = tool_path(arrays, self.journal, tables, machine, self)
        at = starts.tolist()
        self.events = [replace(event, at=at[event.at]) for event in self.events]
        self.cycles = [
            replace(call, first_move=at[call.first_move], moves=at[call.first_move + call.moves] - at[call.first_move])
            for call in self.cycles
        ]
        self.first_pass = None if self.first_pass is None else at[self.first_pass]
        self._settled, self.rows, self._settled_count = [], [], at[-1]
        return arrays

    def block_of(self, origin: int) -> int:
        """The block that an origin stands for, or -1."""
        return self._origins.values[origin][0] if origin >= 0 else -1


def _columns(rows: list[tuple[Any, ...]]) -> list[NDArray[Any]]:
    """Rows as one array for each column of `Moves`."""
    columns = list(zip(*rows, strict=True)) or [()] * len(MoveRow._fields)
    return [
        np.array(column, dtype=_TYPES.get(name, np.int32))
        for name, column in zip(MoveRow._fields, columns, strict=True)
    ]
