"""The shape of a line: what is left when its numbers, blanks and notes are collapsed. Lark reads each distinct shape once."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from verifier.source import Source
from verifier.syntax.columns import PADDING, Runs, join, read_runs
from verifier.syntax.grammar import Counter
from verifier.syntax.reading import read_line

EMPTY, PLAIN, ODD = 0, 1, 2
"""Kinds of lines: without code; words with numbers only; anything else, to be read whole."""

_NOTE = re.compile(rb"\([^()\r\n]*\)|;[^\r\n]*")
_RUNNABLE = re.compile(rb";[ \t]*[A-Za-z][ \t]*[-+]?[0-9.]")
_SEMICOLON = ord(";")
_BARE_END = b"; \t\x00\x11\x12\x13\x14\x7f"
_STEP = 1 << 19
_END = 10

_COLLAPSED = np.arange(256, dtype=np.uint8)
_COLLAPSED[list(b"0123456789.")] = ord("0")
_COLLAPSED[list(b"\t ")] = ord(" ")
_COLLAPSED[list(b"\r\n")] = _END
_COLLAPSED[97:123] -= 32
_RUNS = np.zeros(256, np.bool_)
_RUNS[list(b"0 \x00")] = True
_UNUSUAL = np.ones(256, np.bool_)
_UNUSUAL[0x20:0x7F] = False
_UNUSUAL[list(b"\t\r\n\x00")] = False


class Shaped(NamedTuple):
    """A program by line: its kind, and its number runs (`counts` of them per line). `notes` are spans of comment bytes."""

    kinds: NDArray[np.uint8]
    counts: NDArray[np.int64]
    runs: Runs
    notes: NDArray[np.int64]


def shape_lines(source: Source, counter: Counter) -> Shaped:
    """Sorts the lines of a program and reads the numbers of all."""
    buffer, notes, closer = _blanked(source)
    memo: dict[bytes, int] = {}
    numbers: list[NDArray[np.int64]] = []
    parts: list[Runs] = []
    starts, count = source.starts, source.line_count
    cuts = np.unique(np.append(np.searchsorted(starts, np.arange(0, len(source.data), _STEP)), count)).tolist()
    for first, last in pairwise(cuts):
        low = int(starts[first])
        high = int(starts[last]) if last < count else len(source.data)
        ends = source.ends[first:last] - low
        shapes = _shapes(buffer[low:high], ends)
        numbers.append(np.array([memo.setdefault(shape, len(memo)) for shape in shapes], np.int64))
        parts.append(read_runs(buffer, low, high))
    number, runs = np.concatenate(numbers), join(parts)
    kinds = np.array([kind_of(shape, counter) for shape in memo], np.uint8)[number]
    counts = np.array([shape.count(b"0") for shape in memo], np.int64)[number]
    wrong = np.repeat(np.arange(count), counts)[~runs.sound]
    kinds[wrong] = ODD
    kinds[_unusual_lines(source)] = ODD
    kinds[np.searchsorted(starts, closer, "right") - 1] = ODD
    return Shaped(kinds, counts, runs, notes)


def kind_of(shape: bytes, counter: Counter) -> int:
    """The kind of all lines of this shape, as far as the shape can tell; the numbers themselves may still be unsound."""
    if not shape.strip(b" \x00"):
        return EMPTY
    if any(mark in shape for mark in b"();"):  # a note that was not cut: what is left of it may look whole
        return ODD
    reading = read_line(shape.decode("latin-1"), counter)
    return PLAIN if reading.plain and not reading.problems and shape.count(b"0") == len(reading.words) else ODD


def _blanked(source: Source) -> tuple[NDArray[np.uint8], NDArray[np.int64], list[int]]:
    """The bytes with their comments blanked by NUL, some bytes longer; where the comments are.

    The last answer are places whose lines need a closer look, because a comment there reads like code.
    """
    spans: list[tuple[int, int]] = []
    closer: list[int] = []

    def blank(match: re.Match[bytes]) -> bytes:
        note = match[0]
        if note.strip(_BARE_END):
            spans.append(match.span())
            if note[0] == _SEMICOLON and _RUNNABLE.match(note):
                closer.append(match.start())
        return bytes(len(note))

    data = source.data
    if b"(" in data or b";" in data:
        data = _NOTE.sub(blank, data)
    return np.frombuffer(data + bytes(PADDING), np.uint8), np.array(spans, np.int64).reshape(-1, 2), closer


def _shapes(text: NDArray[np.uint8], ends: NDArray[np.int64]) -> list[bytes]:
    """The shapes of consecutive lines; `ends` are the offsets of their line ends, the last of which may be missing."""
    code = _COLLAPSED[text]
    keep = np.ones(len(text), np.bool_)
    keep[1:] = (code[1:] != code[:-1]) | ~_RUNS[code[1:]]
    keep[code == _END] = False
    keep[ends[ends < len(text)]] = True
    return code[keep].tobytes().split(b"\n")[: len(ends)]


def _unusual_lines(source: Source) -> NDArray[np.int64]:
    """Lines with characters that need a closer look wherever they stand: beyond ASCII, or control characters."""
    first = int(source.starts[0])
    places = np.flatnonzero(_UNUSUAL[np.frombuffer(source.data, np.uint8)[first:]]) + first
    return np.unique(np.searchsorted(source.starts, places, "right") - 1)
