"""Lines become a program: blocks in order, the words of plain blocks in columns, comments, and every problem of the text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from verifier.source import Problem, Source
from verifier.syntax.blocks import Blocks, note_at
from verifier.syntax.columns import Columns
from verifier.syntax.grammar import Counter
from verifier.syntax.reading import Reading, moved, on_line, read_line
from verifier.syntax.shapes import ODD, PLAIN, Shaped, shape_lines
from verifier.syntax.tape import outside
from verifier.syntax.words import Block, Comment


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
    _odd: tuple[tuple[int, Reading], ...] = field(repr=False)

    @cached_property
    def comments(self) -> tuple[Comment, ...]:
        """All comments in order, those of lines without a block too."""
        source = self.source
        lines = np.searchsorted(source.starts, self._notes[:, 0], "right")
        plain = [
            note_at(source, line, start, end)
            for line, (start, end) in zip(lines.tolist(), self._notes.tolist(), strict=True)
        ]
        odd = [comment for line, reading in self._odd for comment in on_line(reading.comments, line)]
        return tuple(sorted(plain + odd, key=lambda comment: (comment.line, comment.column))) if odd else tuple(plain)


def parse(source: Source) -> Program:
    """Reads a program. Nothing in the text is an error to the caller: what can't be read is a flaw of its block."""
    counter = Counter()
    shaped = shape_lines(source, counter)
    memo: dict[bytes, Reading] = {}
    odd: list[tuple[int, Reading]] = []
    for line in (np.flatnonzero(shaped.kinds == ODD) + 1).tolist():
        text = source.line_bytes(line)
        reading = memo.get(text)
        if reading is None:
            reading = memo[text] = read_line(source.decode(text), counter)
        odd.append((line, reading))
    columns = _columns(shaped, odd)
    notes = _plain_notes(source, shaped)
    problems = _problems(source, odd, columns.line)
    return Program(source, Blocks(source, columns, memo, notes), columns, problems, counter.parses, notes, tuple(odd))


def _columns(shaped: Shaped, odd: list[tuple[int, Reading]]) -> Columns:
    """The columns over the lines that are blocks; number runs of all other lines are dropped."""
    plain_line = shaped.kinds == PLAIN
    is_block = plain_line.copy()
    is_block[[line - 1 for line, reading in odd if reading.is_block]] = True
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


def _problems(source: Source, odd: list[tuple[int, Reading]], blocks: NDArray[np.int32]) -> tuple[Problem, ...]:
    found = list(source.problems)
    marks: list[tuple[int, int]] = []
    for line, reading in odd:
        found += moved(reading.problems + reading.flaws, line)
        marks += [(line, column) for column in reading.marks]
    if marks:
        found += outside(marks, blocks.tolist())
    return tuple(sorted(found, key=lambda problem: (problem.span.line, problem.span.column, problem.code)))
