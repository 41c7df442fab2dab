"""Cycles written out from the product's own trace: every cycle of a job replaced by the single moves that it made."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from tests.properties.model import (
    Arc,
    Face,
    Groove,
    Job,
    Move,
    Op,
    Rough,
    Sequence,
    ThreadCycle,
    ThreadMove,
    ThreadPasses,
    Turn,
)
from tests.properties.render import text
from tests.properties.reviewing import traced
from verifier.control import TICKS_PER_MM, CycleCall, Kind, MoveRow, Trace


def cycles_as_moves(job: Job) -> Job:
    """The job with its cycles written out. Metric jobs only: ticks are no finite decimals of an inch."""
    assert job.units == "mm"
    trace = traced(text(job))
    rows, calls = trace.rows(), list(trace.cycles)
    return replace(job, sequences=tuple(_sequence(one, trace, rows, calls) for one in job.sequences))


def _sequence(sequence: Sequence, trace: Trace, rows: list[MoveRow], calls: list[CycleCall]) -> Sequence:
    ops: list[Op] = []
    for op in sequence.ops:
        for _ in range(_count(op)):
            call = calls.pop(0)
            ops += [_move(trace, row) for row in rows[call.first_move : call.first_move + call.moves]]
        if not _count(op):
            ops.append(op)
    return replace(sequence, ops=tuple(ops))


def _count(op: Op) -> int:
    """How many cycle calls an operation makes."""
    if isinstance(op, Turn | ThreadPasses):
        return len(op.diameters)
    if isinstance(op, Face):
        return len(op.places)
    if isinstance(op, Rough):
        return 2 if op.finish else 1
    return 1 if isinstance(op, Groove | ThreadCycle) else 0


def _mm(ticks: int) -> Decimal:
    return Decimal(ticks) / TICKS_PER_MM


def _move(trace: Trace, row: MoveRow) -> Op:
    x, z = _mm(2 * row.x1), _mm(row.z1)
    feed = trace.states[row.state].feed
    if row.kind is Kind.RAPID:
        return Move(x, z)
    assert isinstance(feed, Fraction)
    told = Decimal(feed.numerator) / Decimal(feed.denominator)
    if row.kind is Kind.THREAD:
        return ThreadMove(x, z, told)
    if row.kind is Kind.FEED:
        return Move(x, z, told)
    return Arc(row.kind is Kind.ARC_CW, x, z, _mm(row.cx - row.x0), _mm(row.cz - row.z0), Decimal(0), told)
