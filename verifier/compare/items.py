"""A trace as what is compared: one item for each stretch of path and each event, however the blocks that made them are written.

Moves that go nowhere are dropped, straight moves on one line and arcs on one circle under the same state are one item: a feed move split
in two cuts the same metal. Where single block would stop is kept apart. Where the tool's path under nose compensation is not known nothing is merged:
there the blocks matter, and every such move carries a remark that says so.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import atan2, tau
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from verifier.control import Event, InForce, Kind, Trace
from verifier.machines import Machine

_SAME_CENTRE = 20
"""Arcs are on one circle when their centres differ by no more than so many ticks (2e-7 mm: rounding)."""


class Place(NamedTuple):
    """A point: base and ticks of X (radius) and of Z."""

    bx: str
    x: int
    bz: str
    z: int


@dataclass(frozen=True, slots=True)
class Item:
    """One stretch of path or one event.

    `kind` is a `Kind` name in lower case ("rapid", "feed", "arc_cw", "arc_ccw", "thread") or an event's kind after "event:".
    `first`, `last` are move rows (moves) or the index of the event. `blocks` are all blocks whose moves are in it.
    """

    kind: str
    start: Place
    end: Place
    centre: tuple[int, int] | None
    state: InForce
    value: str
    certain: bool
    block: int
    blocks: tuple[int, ...]
    first: int
    last: int
    step: str
    caller: int

    @property
    def is_move(self) -> bool:
        """Whether this is a stretch of path."""
        return not self.kind.startswith("event:")

    @property
    def cuts(self) -> bool:
        """Whether it is a stretch of path at a feed."""
        return self.is_move and self.kind != "rapid"


@dataclass(frozen=True, slots=True)
class Items:
    """All items of a trace in order; `stops` are the places where single block would stop, each with the number of the item it lies in."""

    items: tuple[Item, ...]
    stops: tuple[tuple[int, Place], ...]


def effective(state: InForce) -> InForce:
    """What is in force in effect: with the spindle stopped its speed says nothing."""
    if state.sense == "stopped":
        return state._replace(speed_mode=None, speed=None, clamp=None)
    return state


BENT = "each axis at its own rate"
"""The value of a rapid in two axes that does not travel on the straight line."""


def items_of(trace: Trace, machine: Machine) -> Items:
    """The items of a trace on the machine that it was executed for."""
    builder = _Builder(trace, bent=machine.choice("rapid-path") == "each-axis")
    events = iter(trace.events)
    event = next(events, None)
    number = 0
    for index in range(len(trace.moves)):
        while event is not None and event.at <= index:
            builder.event(event, number)
            event, number = next(events, None), number + 1
        builder.move(index)
    while event is not None:
        builder.event(event, number)
        event, number = next(events, None), number + 1
    return builder.done()


_NOTHING = InForce(
    None, None, None, None, None, None, None, None, None, None, ("", 0, "", 0), None, None, None, (), None, None
)  # fmt: skip
"""Nothing in force."""


class _Builder:
    """Puts items together from the moves of a trace, whose columns it holds as plain values.

    The stretch that is being put together goes from the move `_first` to the move `_last` (-1: there is none).
    """

    def __init__(self, trace: Trace, *, bent: bool) -> None:
        moves, kinds = trace.moves, {int(kind): kind for kind in Kind}
        self._bent = bent
        self._trace = trace
        self._states = [effective(state) for state in trace.states]
        same: dict[InForce, int] = {}
        self._alike = [same.setdefault(state, k) for k, state in enumerate(self._states)]
        self._kinds = [kinds[kind] for kind in moves.kind.tolist()]
        self._starts = _places(trace, moves.bx0, moves.x0, moves.bz0, moves.z0)
        self._ends = _places(trace, moves.bx1, moves.x1, moves.bz1, moves.z1)
        self._centres = list(zip(moves.cx.tolist(), moves.cz.tolist(), strict=True))
        self._state, self._remarks = moves.state.tolist(), [trace.remarks[k] for k in moves.remark.tolist()]
        self._block, self._caller = moves.block.tolist(), moves.caller.tolist()
        self._step, self._stopping = moves.step.tolist(), moves.ends.tolist()
        self._items: list[Item] = []
        self._stops: list[tuple[int, Place]] = []
        self._first = self._last = -1
        self._remark = ""

    def event(self, event: Event, number: int) -> None:
        self._close()
        nowhere = Place("", 0, "", 0)
        self._items.append(
            Item(
                f"event:{event.kind}", nowhere, nowhere, None, self._at_event(event), event.value, event.certain,
                event.block, (event.block,), number, number, "", event.caller,
            )
        )  # fmt: skip

    def _at_event(self, event: Event) -> InForce:
        """Of the state at an event only what goes on during it counts: spindle, coolant and other auxiliaries.

        What is not executed may move and cut, so there everything in force counts; a variable is written in no time, so there nothing does.
        """
        if event.kind == "variable":
            return _NOTHING
        state = self._states[event.state]
        if not event.certain:
            return state
        if event.kind == "tool" and state.sense is None:
            # Around a tool call that comes before the spindle is started a speed or a clamp turns nothing.
            state = state._replace(speed=None, clamp=None)
        return state._replace(
            feed_mode=None, feed=None, tool=None, offset=None, work_offset=None, frame=("", 0, "", 0), compensation=None,
            plane=None, path_mode=None, lead_change=None, start_angle=None,
        )  # fmt: skip

    def move(self, index: int) -> None:
        start, end, kind, remark = self._starts[index], self._ends[index], self._kinds[index], self._remarks[index]
        if self._bent and kind is Kind.RAPID and start[:2] != end[:2] and start[2:] != end[2:]:
            remark = f"{remark} {BENT}".strip()
        still = start == end and not kind.arc and not remark
        if not still:
            if remark or not self._takes(index):
                self._close()
                self._first, self._remark = index, remark
            self._last = index
        if self._stopping[index]:
            self._stops.append((len(self._items), end))

    def _takes(self, index: int) -> bool:
        """Whether a move without words of its own goes on with the stretch: both are one path in one state."""
        first, kind = self._first, self._kinds[index]
        if first < 0 or kind is not self._kinds[first] or kind is Kind.THREAD or self._remark:
            return False
        if self._alike[self._state[first]] != self._alike[self._state[index]]:
            return False
        if self._ends[self._last] != self._starts[index]:
            return False
        return self._goes_on_round(index) if kind.arc else self._goes_on_straight(index)

    def _goes_on_straight(self, index: int) -> bool:
        start, middle, end = self._starts[self._first], self._starts[index], self._ends[index]
        if not (start.bx == middle.bx == end.bx and start.bz == middle.bz == end.bz):
            return False
        ax, az = middle.x - start.x, middle.z - start.z
        bx, bz = end.x - middle.x, end.z - middle.z
        return ax * bz == az * bx and ax * bx + az * bz > 0

    def _goes_on_round(self, index: int) -> bool:
        start, middle, end = self._starts[self._first], self._starts[index], self._ends[index]
        centre, other = self._centres[self._first], self._centres[index]
        if middle in (start, end) or start == end:
            return False
        near = all(abs(a - b) <= _SAME_CENTRE for a, b in zip(centre, other, strict=True))
        kind = self._kinds[index]
        return near and _turned(start, middle, centre, kind) + _turned(middle, end, other, kind) < 6.2

    def _close(self) -> None:
        """The stretch as an item, where there is one."""
        first, last = self._first, self._last
        if first < 0:
            return
        kind, block = self._kinds[first], self._block[first]
        # Moves that go nowhere lie between those of a stretch: they are no part of it.
        blocks = (block,) if first == last else tuple(dict.fromkeys(self._blocks(first, last)))
        self._items.append(
            Item(
                _NAMES[kind], self._starts[first], self._ends[last], self._centres[first] if kind.arc else None,
                self._states[self._state[first]], self._remark, True, block, blocks, first, last,
                self._trace.steps[self._step[first]], self._caller[first],
            )
        )  # fmt: skip
        self._first = -1

    def _blocks(self, first: int, last: int) -> Iterator[int]:
        """The blocks of the moves of a stretch that go somewhere."""
        rows = range(first, last + 1)
        return (self._block[k] for k in rows if self._kinds[k].arc or self._starts[k] != self._ends[k] or k == first)

    def done(self) -> Items:
        self._close()
        return Items(tuple(self._items), tuple(self._stops))


_NAMES = {kind: kind.name.lower() for kind in Kind}

Column = NDArray[np.int32] | NDArray[np.int64]


def _places(trace: Trace, bx: Column, x: Column, bz: Column, z: Column) -> list[Place]:
    """Places from their columns."""
    base = trace.bases
    rows = zip(bx.tolist(), x.tolist(), bz.tolist(), z.tolist(), strict=True)
    return [Place(base[bx], x, base[bz], z) for bx, x, bz, z in rows]


def _turned(start: Place, end: Place, centre: tuple[int, int], kind: Kind) -> float:
    """The angle in radians by which an arc turns."""
    cx, cz = centre
    begin = atan2(start.x - cx, start.z - cz)
    turned = (atan2(end.x - cx, end.z - cz) - begin) % tau
    return turned if kind is Kind.ARC_CCW else tau - turned
