"""What a `Job` makes the machine do, worked out from the model alone: the oracle of the property tests.

Nothing here uses the product. Positions are exact millimetres (X in diameter), feeds mm/rev, surface speeds m/min. Straight moves that go on in
one direction under one state are one; moves that go nowhere are none. Cycles that are not written out by a rule of `written_out.py` are told
by their words and the place they start from: two such tellings that are equal mean the same, two that differ need not differ in effect.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from decimal import Decimal
from fractions import Fraction

from tests.properties.model import (
    Arc,
    Call,
    Code,
    Coolant,
    Dwell,
    Face,
    Groove,
    Job,
    Move,
    Op,
    Rough,
    Sequence,
    Skipped,
    Speed,
    Step,
    Stop,
    ThreadCycle,
    ThreadMove,
    ThreadPasses,
    Turn,
)
from tests.properties.written_out import written_out

Point = tuple[Decimal, Decimal]
State = tuple[object, ...]


@dataclass(frozen=True, slots=True)
class Done:
    """One thing done: `kind` and what tells it apart; `state` is speed mode, speed, clamp, sense, coolant, tool, offset, work offset."""

    kind: str
    start: tuple[object, ...]
    end: tuple[object, ...]
    detail: tuple[object, ...]
    state: State


def meaning(job: Job, *, skips_on: frozenset[int] = frozenset()) -> tuple[Done, ...]:
    """Everything done, in order, with these block skip levels on."""
    return tuple(_together(_Teller(job, skips_on).program()))


class _Teller:
    def __init__(self, job: Job, skips_on: frozenset[int]) -> None:
        self.job = job
        self.skips_on = skips_on
        self.scale = Fraction(127, 5) if job.units == "inch" else Fraction(1)
        self.point: Point = (Decimal(0), Decimal(0))
        self.known = False
        self.state: dict[str, object] = {}

    def mm(self, value: Decimal) -> Fraction:
        return Fraction(value) * self.scale

    def place(self, point: Point) -> tuple[object, ...]:
        return tuple(self.mm(value) for value in point)

    def done(self, kind: str, end: Point | None, *detail: object) -> Done:
        start = self.place(self.point) if self.known else ("unknown",)
        return Done(kind, start, self.place(end) if end is not None else (), detail, tuple(self.state.values()))

    def program(self) -> Iterator[Done]:
        for sequence in self.job.sequences:
            yield from self.sequence(sequence)
        yield self.done("repeat" if self.job.repeats else "end", None)

    def sequence(self, sequence: Sequence) -> Iterator[Done]:
        self.known = False
        surface = self.scale != 1 and sequence.surface
        self.state = {
            "mode": sequence.surface,
            "speed": Fraction(sequence.speed) * (Fraction(381, 1250) if surface else 1),
            "clamp": Fraction(sequence.clamp) if sequence.surface and sequence.clamp is not None else None,
            "sense": sequence.sense,
            "coolant": sequence.coolant or self.state.get("coolant", False),
            "tool": sequence.tool,
            "offset": sequence.offset,
            "work": sequence.work_offset or self.state.get("work", "G54"),
        }
        yield self.done("tool", None, sequence.tool, sequence.offset)
        yield from self.move(Move(*sequence.approach))
        for op in sequence.ops:
            yield from self.op(op)
        yield from self.move(Move(*sequence.away))
        if sequence.home:
            yield self.done("home", None)
            self.known = False
        self.state |= {"mode": None, "speed": None, "clamp": None, "sense": "stopped"}
        self.state["coolant"] = not sequence.coolant and self.state["coolant"]
        if sequence.stop is not None:
            yield self.done("stop", None, sequence.stop)

    def op(self, op: Op) -> Iterator[Done]:
        if isinstance(op, Skipped):
            if max(op.level, 1) not in self.skips_on:
                yield from self.op(op.op)
        elif isinstance(op, Move | Step | Arc | ThreadMove):
            yield from self.move(op)
        elif isinstance(op, Turn | Face | Groove):
            for part in written_out(op, self.point):
                yield from self.op(part)
        elif isinstance(op, Call):
            for _ in range(op.times):
                for part in self.job.subprograms[op.number]:
                    yield from self.op(part)
        else:
            yield from self.other(op)

    def other(self, op: Op) -> Iterator[Done]:
        if isinstance(op, Speed):
            scale = Fraction(381, 1250) if self.scale != 1 and self.state["mode"] else 1
            self.state["speed"] = Fraction(op.value) * scale
        elif isinstance(op, Coolant):
            self.state["coolant"] = op.on
        elif isinstance(op, Dwell):
            yield self.done("dwell", None, op.milliseconds)
        elif isinstance(op, Stop | Code):
            yield self.done(
                "stop" if isinstance(op, Stop) else "code", None, getattr(op, "code", getattr(op, "number", 0))
            )
        elif isinstance(op, ThreadPasses | ThreadCycle | Rough):
            for part in _parts(op):
                yield self.done(type(op).__name__, self.point, *(self.detail(value) for value in part))

    def detail(self, value: object) -> object:
        if isinstance(value, Decimal):
            return self.mm(value)
        if isinstance(value, tuple):
            return tuple(self.detail(part) for part in value)
        if hasattr(value, "__dataclass_fields__"):
            return tuple(self.detail(getattr(value, f.name)) for f in fields(value))
        return value

    def move(self, op: Move | Step | Arc | ThreadMove) -> Iterator[Done]:
        x, z = self.point
        end = _end(op, x, z)
        feed = op.lead if isinstance(op, ThreadMove) else op.feed
        told = None if feed is None else self.mm(feed)
        if isinstance(op, Arc):
            centre = (self.mm(x) + 2 * self.mm(op.i), self.mm(z) + self.mm(op.k))
            yield self.done("clockwise" if op.clockwise else "counterclockwise", end, told, centre, self.mm(op.r))
        else:
            yield self.done("rapid" if feed is None else "thread" if isinstance(op, ThreadMove) else "feed", end, told)
        self.point, self.known = end, True


def _end(op: Move | Step | Arc | ThreadMove, x: Decimal, z: Decimal) -> Point:
    if isinstance(op, Step):
        return x + op.u, z + op.w
    return x if op.x is None else op.x, z if op.z is None else op.z


def _parts(op: ThreadPasses | ThreadCycle | Rough) -> Iterator[tuple[object, ...]]:
    """What a cycle is told by; its label and the way it is written take no part."""
    if isinstance(op, Rough):
        op = replace(op, label=0)
    yield tuple(getattr(op, f.name) for f in fields(op) if f.name != "of_profile")


_STRAIGHT = ("rapid", "feed")


def _together(found: Iterator[Done]) -> Iterator[Done]:
    open_: Done | None = None
    for one in found:
        if one.kind in (*_STRAIGHT, "thread") and one.start == one.end:
            continue
        if open_ is not None and _goes_on(open_, one):
            open_ = replace(open_, end=one.end)
            continue
        if open_ is not None:
            yield open_
        open_ = one
    if open_ is not None:
        yield open_


def _goes_on(one: Done, other: Done) -> bool:
    if one.kind != other.kind or one.kind not in _STRAIGHT or "unknown" in one.start:
        return False
    if one.detail != other.detail or one.state != other.state:
        return False
    ax, az = (b - a for a, b in zip(one.start, one.end, strict=True))  # type: ignore[operator]
    bx, bz = (b - a for a, b in zip(other.start, other.end, strict=True))  # type: ignore[operator]
    return bool(ax * bz == az * bx and ax * bx + az * bz > 0)
