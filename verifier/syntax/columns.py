"""All plain words of a program as numpy columns: numbers are read many at a time, exactly, eight digits in one integer."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

SIDE_LIMIT = 8
"""Digits on one side of the point that the columns hold; longer numbers are read one by one, exactly too."""
PADDING = 8
"""Bytes that must follow the last one of the buffer."""

_POWERS = 10 ** np.arange(SIDE_LIMIT + 1, dtype=np.int64)
_DIGIT = np.zeros(256, np.bool_)
_DIGIT[list(b"0123456789.")] = True
_MINUS, _PLUS, _POINT, _BLANK, _TAB = 45, 43, 46, 32, 9
_UPPER = 0xDF
_BLANKS = 4
"""Blanks between a letter and its number that are stepped over; lines with more are read whole."""


@dataclass(frozen=True, slots=True, eq=False)
class Columns:
    """The words of all plain blocks, in order; nothing of the blocks that are not plain.

    The words of block b are `row[b]:row[b+1]` in the word columns. `letter` is upper case ASCII. The value is
    `mantissa / 10**decimals`, `decimals` is -1 where no point was written. `data[offset:offset+1+size]` is the word as written.
    `line` (from 1) and `plain` have one entry per block: where a block is not plain, read `blocks[b]`.
    """

    row: NDArray[np.int64]
    letter: NDArray[np.uint8]
    mantissa: NDArray[np.int64]
    decimals: NDArray[np.int8]
    offset: NDArray[np.int64]
    size: NDArray[np.uint8]
    line: NDArray[np.int32]
    plain: NDArray[np.bool_]

    def __post_init__(self) -> None:
        for field in fields(self):
            getattr(self, field.name).flags.writeable = False


class Runs(NamedTuple):
    """Every run of digits and points in a stretch of text, read as if it were the number of a word.

    `sound` says where it can be one: behind a letter, one point at most, a digit at least, and not too many of them.
    """

    letter: NDArray[np.uint8]
    mantissa: NDArray[np.int64]
    decimals: NDArray[np.int8]
    offset: NDArray[np.int64]
    size: NDArray[np.uint8]
    sound: NDArray[np.bool_]


def join(parts: list[Runs]) -> Runs:
    """The runs of consecutive stretches as one."""
    return Runs(*(np.concatenate(column) for column in zip(*parts, strict=True)))


def read_runs(buffer: NDArray[np.uint8], low: int, high: int) -> Runs:
    """All runs in `buffer[low:high]`, which begins and ends at a line. `buffer` goes on for PADDING bytes at least."""
    text = buffer[low:high]
    start, end = _bounds(text)
    before = text[start - 1]
    negative = before == _MINUS
    at = start - 1 - (negative | (before == _PLUS))
    for _ in range(_BLANKS):
        at -= (text[at] == _BLANK) | (text[at] == _TAB)
    letter = text[at] & _UPPER
    point, twice = _points(text, start, end)
    whole, part = point - start, np.maximum(end - point - 1, 0)
    sound = (whole <= SIDE_LIMIT) & (part <= SIDE_LIMIT) & (whole + part > 0) & ~twice & (letter >= 65) & (letter <= 90)
    shown = np.minimum(part, SIDE_LIMIT)
    eights: NDArray[np.uint64] = np.ndarray((high - low,), "<u8", buffer.data, low, (1,))
    mantissa = _eight(eights, start, np.minimum(whole, SIDE_LIMIT)) * _POWERS[shown]
    mantissa += _eight(eights, np.minimum(point + 1, high - low - 1), shown)
    mantissa[negative] *= -1
    decimals = np.where(point < end, shown, -1).astype(np.int8)
    size = np.minimum(end - at - 1, 255).astype(np.uint8)
    return Runs(letter, mantissa, decimals, at + low, size, sound)


def _bounds(text: NDArray[np.uint8]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """First byte of each run of digits and points, and the byte behind its last one."""
    edge = np.zeros(len(text) + 2, np.int8)
    edge[1:-1] = _DIGIT[text]
    step = np.diff(edge)
    return np.flatnonzero(step == 1), np.flatnonzero(step == -1)


def _points(
    text: NDArray[np.uint8], start: NDArray[np.int64], end: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Where each run has its point (its end where it has none), and whether it has more than one."""
    point, twice = end.copy(), np.zeros(len(start), np.bool_)
    places = np.flatnonzero(text == _POINT)
    owner = np.searchsorted(start, places, "right") - 1
    point[owner] = places
    twice[owner[1:][owner[1:] == owner[:-1]]] = True
    return point, twice


def _eight(eights: NDArray[np.uint64], start: NDArray[np.int64], count: NDArray[np.int64]) -> NDArray[np.int64]:
    """Values of the `count` (0 to 8) ASCII digits from byte `start`: neighbours are folded pairwise, 1 to 2 to 4 to 8 digits."""
    u: Any = np.uint64
    value: NDArray[np.uint64] = eights[start] << ((SIDE_LIMIT - count) * 8).astype(u) & u(0x0F0F0F0F0F0F0F0F)
    value = (value * u(10) + (value >> u(8))) & u(0x00FF00FF00FF00FF)
    value = (value * u(100) + (value >> u(16))) & u(0x0000FFFF0000FFFF)
    value = (value * u(10_000) + (value >> u(32))) & u(0xFFFFFFFF)
    value[count == 0] = 0  # a shift by all 64 bits is not defined
    return value.view(np.int64)
