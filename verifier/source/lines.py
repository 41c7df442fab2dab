"""Where the lines of a file begin and end, whatever line ends it uses; nothing is normalised, only found.

A line end is one of CR CR LF, LF CR CR, CR LF, LF CR, LF, CR (first match wins; LF CR only where no LF follows, so that
LF and CR LF mixed are two ends). Vertical tab, form feed, NEL and the Unicode separators end no line on a control, so they
end none here.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from verifier.source.problem import Problem, Span

_LINE_END = re.compile(rb"\r\r\n|\n\r\r|\r\n|\n\r(?!\n)|\n|\r")
_LF, _CR = 10, 13
_NAMES = {b"\r\r\n": "CR CR LF", b"\n\r\r": "LF CR CR", b"\r\n": "CR LF", b"\n\r": "LF CR", b"\n": "LF", b"\r": "CR"}


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """Byte offsets: line i (from 0) is `data[starts[i]:ends[i]]`, its line end `data[ends[i]:nexts[i]]` (maybe empty)."""

    starts: NDArray[np.int64]
    ends: NDArray[np.int64]
    nexts: NDArray[np.int64]


def find_lines(data: bytes, skip: int = 0) -> Lines:
    """The lines of `data` after its first `skip` bytes (a byte order mark); text behind the last line end is one."""
    ends, nexts = _find_ends(data)
    if not len(nexts) or int(nexts[-1]) < len(data):
        ends = np.append(ends, len(data))
        nexts = np.append(nexts, len(data))
    starts = np.empty_like(nexts)
    starts[0] = skip
    starts[1:] = nexts[:-1]
    return Lines(starts, ends, nexts)


def _find_ends(data: bytes) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Offsets of every line end: its first byte, and the byte after it."""
    raw = np.frombuffer(data, np.uint8)
    feeds = np.flatnonzero(raw == _LF)
    returns = data.count(b"\r")
    if not returns:
        return feeds, feeds + 1
    after_return = np.zeros(len(feeds), np.bool_)
    after_return[feeds > 0] = raw[feeds[feeds > 0] - 1] == _CR
    if (
        int(after_return.sum()) == returns
    ):  # every CR stands before its own LF: the two usual line ends, no need to walk
        return feeds - after_return, feeds + 1
    bounds = [match.span() for match in _LINE_END.finditer(data)]
    pairs = np.array(bounds, np.int64).reshape(-1, 2)
    return pairs[:, 0].copy(), pairs[:, 1].copy()


def mixed_line_ends(data: bytes, lines: Lines) -> Problem | None:
    """The first line that ends otherwise than the first one, as a problem; none where all line ends are alike."""
    ended = lines.nexts > lines.ends
    if not ended.any():
        return None
    sizes = lines.nexts - lines.ends
    first = np.frombuffer(data, np.uint8)[np.minimum(lines.ends, len(data) - 1)]
    other = np.flatnonzero(ended & ((sizes != sizes[0]) | (first != first[0])))
    if not len(other):
        return None
    at = int(other[0])
    usual, odd = (data[int(lines.ends[i]) : int(lines.nexts[i])] for i in (0, at))
    return Problem(
        "mixed-line-ends",
        Span(at + 1, 1),
        f"this line ends in {_NAMES[odd]}, the first one in {_NAMES[usual]}",
        expected="the same line end throughout",
        hint="some controls read a stray carriage return or line feed as a character; save with one kind of line end",
    )
