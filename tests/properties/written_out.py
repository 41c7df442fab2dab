"""Cycles written out as single moves by rules of their own, apart from the product's expansion.

G90, G94: CHECKS 3.4 (common practice, no source; facing read in public sources). G74, G75: peck, back by the retract, peck again; columns side by
side, rapid out between them, at the end to the start (common practice, partly read in public sources).
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from tests.properties.model import Face, Groove, Move, Op, Turn

Point = tuple[Decimal, Decimal]


def written_out(op: Turn | Face | Groove, start: Point) -> Iterator[Op]:
    """The moves of a cycle that starts at `start` (X in diameter)."""
    if isinstance(op, Turn):
        return _turn(op, start)
    if isinstance(op, Face):
        return _face(op, start)
    return _columns(op, start)


def _turn(op: Turn, start: Point) -> Iterator[Op]:
    for diameter in op.diameters:
        yield Move(diameter + 2 * op.taper, None)
        yield Move(diameter, op.z, op.feed)
        yield Move(start[0], None, op.feed)
        yield Move(None, start[1])


def _face(op: Face, start: Point) -> Iterator[Op]:
    for place in op.places:
        yield Move(None, place + op.taper)
        yield Move(op.x, place, op.feed)
        yield Move(None, start[1], op.feed)
        yield Move(start[0], None)


def _columns(op: Groove, start: Point) -> Iterator[Op]:
    """With `u` along the pecks and `v` along the steps; amounts along X are radius amounts, so they count twice."""
    along, across = (1, 0) if op.along_z else (0, 1)
    end = (op.x, op.z)
    peck = op.peck * (1 if op.along_z else 2)
    back = op.retract * (1 if op.along_z else 2)
    step = None if op.step is None else op.step * (2 if op.along_z else 1)
    for column in _places(start[across], end[across] if step is not None else start[across], step):
        yield _to(across, column, None)
        for depth in _depths(start[along], end[along], peck):
            yield _to(along, depth, op.feed)
            if depth != end[along]:
                yield _to(along, depth + back * (1 if start[along] > end[along] else -1), None)
        yield _to(along, start[along], None)
    yield _to(across, start[across], None)


def _to(axis: int, value: Decimal, feed: Decimal | None) -> Move:
    return Move(value if axis == 0 else None, value if axis == 1 else None, feed)


def _places(first: Decimal, last: Decimal, step: Decimal | None) -> Iterator[Decimal]:
    yield first
    if step is not None:
        yield from _depths(first, last, step)


def _depths(top: Decimal, bottom: Decimal, piece: Decimal) -> Iterator[Decimal]:
    """Piece after piece from top to bottom; the last one is what remains."""
    sign = 1 if bottom > top else -1
    here = top
    while here != bottom:
        here += sign * piece
        if (bottom - here) * sign < 0:
            here = bottom
        yield here
