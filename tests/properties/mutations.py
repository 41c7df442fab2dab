"""Mutations of a `Job`: one value, one operation or one state made otherwise, at every place where there is one.

Whether a mutation means something else is decided by `meaning.py`; the values are changed by far more than the resolution.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal

from tests.properties.model import (
    Arc,
    Call,
    Coolant,
    Dwell,
    Face,
    Groove,
    Job,
    Move,
    Op,
    Rough,
    Sequence,
    Speed,
    Step,
    Stop,
    ThreadCycle,
    ThreadPasses,
    Turn,
)

Mutated = tuple[str, Job]

_STEP = {"mm": Decimal("0.2"), "inch": Decimal("0.02")}
_FEED = {"mm": Decimal("0.02"), "inch": Decimal("0.001")}


def mutations(job: Job) -> Iterator[Mutated]:
    """Every mutation by name, with the mutated job."""
    for index, sequence in enumerate(job.sequences):
        for name, other in _of_sequence(job, sequence):
            yield name, replace(job, sequences=(*job.sequences[:index], other, *job.sequences[index + 1 :]))
    for number, ops in job.subprograms.items():
        for name, others in _of_ops(job, ops):
            yield f"subprogram: {name}", replace(job, subprograms={**job.subprograms, number: others})
    if not job.repeats:
        yield "end: repeats", replace(job, repeats=True)


def _of_sequence(job: Job, s: Sequence) -> Iterator[tuple[str, Sequence]]:
    step = _STEP[job.units]
    yield "tool", replace(s, tool=s.tool + 10)
    yield "offset", replace(s, offset=s.offset + 10)
    yield "sense", replace(s, sense="reverse" if s.sense == "forward" else "forward")
    yield "speed", replace(s, speed=s.speed + 20)
    yield "speed mode", replace(s, surface=not s.surface, clamp=None)
    yield "coolant left out", replace(s, coolant=not s.coolant)
    yield "work offset", replace(s, work_offset="G55")
    yield "approach X", replace(s, approach=(s.approach[0] + step, s.approach[1]))
    yield "approach Z", replace(s, approach=(s.approach[0], s.approach[1] - step))
    yield "away X", replace(s, away=(s.away[0] - step, s.away[1]))
    yield "home", replace(s, home=not s.home)
    if s.clamp is not None:
        yield "clamp", replace(s, clamp=s.clamp + 500)
        yield "clamp removed", replace(s, clamp=None)
    if s.stop is not None:
        yield "stop kind", replace(s, stop=1 - s.stop)
        yield "stop removed", replace(s, stop=None)
    for name, ops in _of_ops(job, s.ops):
        yield name, replace(s, ops=ops)


def _of_ops(job: Job, ops: tuple[Op, ...]) -> Iterator[tuple[str, tuple[Op, ...]]]:
    for at, op in enumerate(ops):
        before, after = ops[:at], ops[at + 1 :]
        for name, other in _of_op(job, op):
            yield name, (*before, other, *after)
        yield f"{type(op).__name__} removed", (*before, *after)
        yield f"{type(op).__name__} twice", (*before, op, op, *after)
        if after:
            yield f"{type(op).__name__} exchanged with the next", (*before, after[0], op, *after[1:])
        yield f"stop put before {type(op).__name__}", (*before, Stop(0), op, *after)
        yield f"dwell put before {type(op).__name__}", (*before, Dwell(250), op, *after)


def _of_op(job: Job, op: Op) -> Iterator[tuple[str, Op]]:
    if isinstance(op, Rough):
        yield from _of_rough(job, op)
    elif isinstance(op, Move | Arc | Step):
        yield from _of_move(job, op)
    elif isinstance(op, Dwell):
        yield "dwell", replace(op, milliseconds=op.milliseconds + 100)
    elif isinstance(op, Stop):
        yield "stop", replace(op, code=1 - op.code)
    elif isinstance(op, Coolant):
        yield "coolant", replace(op, on=not op.on)
    elif isinstance(op, Speed):
        yield "speed between", replace(op, value=op.value + 40)
    elif isinstance(op, Call):
        yield "times", replace(op, times=op.times + 1)
    else:
        yield from _of_cycle(job, op)


def _of_move(job: Job, op: Move | Arc | Step) -> Iterator[tuple[str, Op]]:
    step, feed = _STEP[job.units], _FEED[job.units]
    if isinstance(op, Step):
        if op.u:
            yield "U", replace(op, u=op.u + step)
        if op.w:
            yield "W", replace(op, w=op.w - step)
    elif isinstance(op, Move):
        if op.x is not None:
            yield "X", replace(op, x=op.x + step)
        if op.z is not None:
            yield "Z", replace(op, z=op.z - step)
            yield "Z sign", replace(op, z=-op.z)
    else:
        yield "arc sense", replace(op, clockwise=not op.clockwise)
        yield "arc radius", replace(op, r=op.r + step)
        yield "arc end", replace(op, z=op.z - step / 4)
    if op.feed is not None:
        yield "feed", replace(op, feed=op.feed + feed)
        if not isinstance(op, Arc):
            yield "feed to rapid", replace(op, feed=None)
    elif not isinstance(op, Arc):
        yield "rapid to feed", replace(op, feed=feed * 4)


def _of_cycle(job: Job, op: Op) -> Iterator[tuple[str, Op]]:
    step, feed = _STEP[job.units], _FEED[job.units]
    if isinstance(op, Turn | ThreadPasses):
        yield "cycle diameter", replace(op, diameters=(op.diameters[0] - step, *op.diameters[1:]))
        yield "cycle Z", replace(op, z=op.z - step)
    if isinstance(op, Turn):
        yield "cycle taper", replace(op, taper=op.taper - step)
    if isinstance(op, Face):
        yield "cycle Z", replace(op, places=(op.places[0] + step, *op.places[1:]))
        yield "cycle X", replace(op, x=op.x - step)
    if isinstance(op, Groove):
        yield "cycle peck", replace(op, peck=op.peck + step)
        yield "cycle depth", replace(op, z=op.z - step) if op.along_z else replace(op, x=op.x - step)
        yield "cycle retract", replace(op, retract=op.retract + step / 4)
    if isinstance(op, Turn | Face | Groove):
        yield "cycle feed", replace(op, feed=op.feed + feed)
    if isinstance(op, ThreadPasses | ThreadCycle):
        yield "lead", replace(op, lead=op.lead * 2)
    if isinstance(op, ThreadCycle):
        yield "thread height", replace(op, height=op.height + step, of_profile=False)
        yield "thread first pass", replace(op, first=op.first + step, of_profile=False)
        yield "thread finish passes", replace(op, finish_passes=op.finish_passes + 1, of_profile=False)
        yield "thread Z", replace(op, z=op.z - step)


def _of_rough(job: Job, op: Rough) -> Iterator[tuple[str, Op]]:
    step, feed = _STEP[job.units], _FEED[job.units]
    yield "rough allowance X", replace(op, allowance_x=op.allowance_x + step)
    yield "rough allowance Z", replace(op, allowance_z=op.allowance_z + step)
    yield "rough feed", replace(op, feed=op.feed + feed)
    yield "finish cycle", replace(op, finish=not op.finish)
    if op.passes:
        yield "rough passes", replace(op, passes=op.passes + 1)
    else:
        yield "rough depth", replace(op, depth=op.depth + step)
    for at in range(1, len(op.contour)):
        for name, other in _of_move(job, op.contour[at]):  # type: ignore[arg-type]
            if name in ("X", "Z", "arc radius") or (op.finish and name == "feed"):
                yield f"contour {name}", replace(op, contour=(*op.contour[:at], other, *op.contour[at + 1 :]))
