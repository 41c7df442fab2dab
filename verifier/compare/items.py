"""A trace as what is compared: one item for each stretch of path and each event, however the blocks that made them are written.

Moves that go nowhere are dropped, straight moves on one line and arcs on one circle under the same state are one item: a feed move split
in two cuts the same metal. Where single block would stop is kept apart. Where the tool's path under nose compensation is not known nothing is merged:
there the blocks matter, and every such move carries a remark that says so.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from verifier.control import Event, InForce, Kind, MoveRow, Trace
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
    states = [effective(state) for state in trace.states]
    builder = _Builder(trace, states, bent=machine.choice("rapid-path") == "each-axis")
    events = iter(trace.events)
    event = next(events, None)
    number = 0
    for index, row in enumerate(trace.rows()):
        while event is not None and event.at <= index:
            builder.event(event, number)
            event, number = next(events, None), number + 1
        builder.move(index, row)
    while event is not None:
        builder.event(event, number)
        event, number = next(events, None), number + 1
    return builder.done()


_NOTHING = InForce(
    None, None, None, None, None, None, None, None, None, None, ("", 0, "", 0), None, None, None, (), None, None
)  # fmt: skip
"""Nothing in force."""


class _Builder:
    def __init__(self, trace: Trace, states: list[InForce], *, bent: bool) -> None:
        self._bent = bent
        self._trace = trace
        self._states = states
        self._items: list[Item] = []
        self._stops: list[tuple[int, Place]] = []
        self._open: _Stretch | None = None

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

    def move(self, index: int, row: MoveRow) -> None:
        base = self._trace.bases
        start = Place(base[row.bx0], row.x0, base[row.bz0], row.z0)
        end = Place(base[row.bx1], row.x1, base[row.bz1], row.z1)
        state = self._states[row.state]
        remark = self._trace.remarks[row.remark]
        if self._bent and row.kind is Kind.RAPID and start[:2] != end[:2] and start[2:] != end[2:]:
            remark = f"{remark} {BENT}".strip()
        still = start == end and not row.kind.arc and not remark
        if not still:
            piece = _Stretch(
                row.kind, start, end, (row.cx, row.cz) if row.kind.arc else None, state, remark, row, index
            )
            if self._open is None or not self._open.takes(piece):
                self._close()
                self._open = piece
        if row.ends:
            self._stops.append((len(self._items), end))

    def _close(self) -> None:
        if self._open is not None:
            self._items.append(self._open.item(self._trace))
            self._open = None

    def done(self) -> Items:
        self._close()
        return Items(tuple(self._items), tuple(self._stops))


class _Stretch:
    """A stretch of path being put together from moves."""

    def __init__(
        self,
        kind: Kind,
        start: Place,
        end: Place,
        centre: tuple[int, int] | None,
        state: InForce,
        remark: str,
        row: MoveRow,
        index: int,
    ) -> None:
        self.kind, self.start, self.end, self.centre, self.state, self.remark = kind, start, end, centre, state, remark
        self.row, self.first, self.last = row, index, index
        self.blocks: dict[int, None] = {row.block: None}

    def takes(self, other: _Stretch) -> bool:
        """Extend this stretch by the next one where both are one path in one state."""
        if (
            self.kind is not other.kind
            or self.state != other.state
            or self.remark
            or other.remark
            or self.kind is Kind.THREAD
            or self.end != other.start
        ):
            return False
        if not (self._goes_on_round(other) if self.kind.arc else self._goes_on_straight(other)):
            return False
        self.end, self.last = other.end, other.last
        self.blocks.update(other.blocks)
        return True

    def _goes_on_straight(self, other: _Stretch) -> bool:
        if not (self.start[0] == self.end[0] == other.end[0] and self.start[2] == self.end[2] == other.end[2]):
            return False
        ax, az = self.end.x - self.start.x, self.end.z - self.start.z
        bx, bz = other.end.x - other.start.x, other.end.z - other.start.z
        return ax * bz == az * bx and ax * bx + az * bz > 0

    def _goes_on_round(self, other: _Stretch) -> bool:
        if self.centre is None or other.centre is None or self.start == self.end or other.start == other.end:
            return False
        near = all(abs(a - b) <= _SAME_CENTRE for a, b in zip(self.centre, other.centre, strict=True))
        return near and other.end != self.start and _turned(self) + _turned(other) < 6.2

    def item(self, trace: Trace) -> Item:
        return Item(
            self.kind.name.lower(), self.start, self.end, self.centre, self.state, self.remark, True, self.row.block,
            tuple(self.blocks), self.first, self.last, trace.steps[self.row.step], self.row.caller,
        )  # fmt: skip


def _turned(stretch: _Stretch) -> float:
    """The angle in radians by which an arc turns."""
    from math import atan2, tau

    assert stretch.centre is not None
    cx, cz = stretch.centre
    begin = atan2(stretch.start.x - cx, stretch.start.z - cz)
    end = atan2(stretch.end.x - cx, stretch.end.z - cz)
    turned = (end - begin) % tau
    return turned if stretch.kind is Kind.ARC_CCW else tau - turned
