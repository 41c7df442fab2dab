"""Lines become a program: blocks in order, the words of plain blocks in columns, comments, and every problem of the text."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from verifier.source import Problem, Source, Span
from verifier.syntax.blocks import Blocks, note_at
from verifier.syntax.columns import Columns
from verifier.syntax.grammar import Counter
from verifier.syntax.reading import Reading, moved, on_line, read_line
from verifier.syntax.shapes import ODD, PLAIN, Shaped, shape_lines
from verifier.syntax.tape import outside
from verifier.syntax.words import Block, Comment

PROBLEM_LIMIT = 10_000
"""Problems that are listed; more of them are counted in a last one. The blocks still carry all flaws of their own."""


class Odd(NamedTuple):
    """The lines that were read whole: line `lines[i]` (from 1) reads as `readings[which[i]]`."""

    lines: NDArray[np.int64]
    which: NDArray[np.int64]
    readings: tuple[Reading, ...]

    def count_of(self, of: Callable[[Reading], int]) -> NDArray[np.int64]:
        """A count of something in the reading of each line."""
        return np.array([of(reading) for reading in self.readings], np.int64)[self.which]

    def pairs(self, chosen: NDArray[np.bool_]) -> Iterator[tuple[int, Reading]]:
        """Line and reading of the chosen lines, in order."""
        for i in np.flatnonzero(chosen):
            yield int(self.lines[i]), self.readings[int(self.which[i])]


@dataclass(frozen=True, eq=False)
class Program:
    """One program, read. `problems` are all of its file and its text, in the order of their places.

    `lark_parses` counts how often Lark ran for it: once for each distinct line shape, and for each distinct line that is
    not plain (twice where such a line has comments).
    """

    source: Source
    blocks: Sequence[Block]
    columns: Columns
    problems: tuple[Problem, ...]
    lark_parses: int
    _notes: NDArray[np.int64] = field(repr=False)
    _odd: Odd = field(repr=False)

    @cached_property
    def comments(self) -> tuple[Comment, ...]:
        """All comments in order, those of lines without a block too."""
        source = self.source
        lines = np.searchsorted(source.starts, self._notes[:, 0], "right")
        spans = zip(lines.tolist(), self._notes.tolist(), strict=True)
        plain = [note_at(source, line, start, end) for line, (start, end) in spans]
        with_notes = self._odd.count_of(lambda reading: len(reading.comments)) > 0
        odd = [comment for line, reading in self._odd.pairs(with_notes) for comment in on_line(reading.comments, line)]
        return tuple(sorted(plain + odd, key=lambda comment: (comment.line, comment.column))) if odd else tuple(plain)


def parse(source: Source) -> Program:
    """Reads a program. Nothing in the text is an error to the caller: what can't be read is a flaw of its block."""
    counter = Counter()
    shaped = shape_lines(source, counter)
    memo: dict[bytes, Reading] = {}
    odd = _read_odd(source, np.flatnonzero(shaped.kinds == ODD) + 1, memo, counter)
    columns = _columns(shaped, odd)
    notes = _plain_notes(source, shaped)
    problems = _problems(source, odd, columns.line)
    return Program(source, Blocks(source, columns, memo, notes), columns, problems, counter.parses, notes, odd)


def _read_odd(source: Source, lines: NDArray[np.int64], memo: dict[bytes, Reading], counter: Counter) -> Odd:
    """Reads lines whole, each distinct text once; `memo` keeps what each text reads as."""
    numbers: dict[bytes, int] = {}
    which = np.empty(len(lines), np.int64)
    for i, line in enumerate(lines.tolist()):
        text = source.line_bytes(line)
        if text not in numbers:
            numbers[text] = len(numbers)
            memo[text] = read_line(source.decode(text), counter)
        which[i] = numbers[text]
    return Odd(lines, which, tuple(memo.values()))


def _columns(shaped: Shaped, odd: Odd) -> Columns:
    """The columns over the lines that are blocks; number runs of all other lines are dropped."""
    plain_line = shaped.kinds == PLAIN
    is_block = plain_line.copy()
    is_block[odd.lines[odd.count_of(lambda reading: reading.is_block) > 0] - 1] = True
    kept = np.repeat(plain_line, shaped.counts)
    lines = np.flatnonzero(is_block)
    row = np.zeros(len(lines) + 1, np.int64)
    np.cumsum(np.where(plain_line, shaped.counts, 0)[lines], out=row[1:])
    letter, mantissa, decimals, offset, size, _ = (column[kept] for column in shaped.runs)
    return Columns(row, letter, mantissa, decimals, offset, size, (lines + 1).astype(np.int32), plain_line[lines])


def _plain_notes(source: Source, shaped: Shaped) -> NDArray[np.int64]:
    """Spans of the comments on lines that were not read whole; those lines have theirs from the grammar."""
    notes = shaped.notes
    lines = np.searchsorted(source.starts, notes[:, 0], "right") - 1
    plain: NDArray[np.int64] = notes[shaped.kinds[lines] != ODD]
    return plain


def _problems(source: Source, odd: Odd, blocks: NDArray[np.int32]) -> tuple[Problem, ...]:
    marks = np.repeat(odd.lines, odd.count_of(lambda reading: len(reading.marks)))
    counts = odd.count_of(lambda reading: len(reading.problems) + len(reading.flaws))
    told = (counts > 0) & (np.cumsum(counts) <= PROBLEM_LIMIT)
    found = [*source.problems, *outside(marks, blocks)]
    for line, reading in odd.pairs(told):
        found += moved(reading.problems + reading.flaws, line)
    found.sort(key=lambda problem: (problem.span.line, problem.span.column, problem.code))
    left = int(counts[~told].sum())
    if left:
        last = int(odd.lines[np.flatnonzero(counts)[-1]])
        message = f"{left} more problems in the lines up to this one"
        found.append(
            Problem("more-problems", Span(last, 1), message, expected="a program", hint="is it the right file?")
        )
    return tuple(found)
