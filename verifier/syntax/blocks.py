"""The blocks of a program as a sequence that builds a block only when it is asked for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import overload

import numpy as np
from numpy.typing import NDArray

from verifier.source import Source
from verifier.syntax.columns import Columns
from verifier.syntax.reading import Reading
from verifier.syntax.words import Block, Comment, Number, Word

_KEPT = 1 << 15
"""Blocks, and lines with their words, that are kept for the next time: programs repeat themselves, and many readers walk them."""


class Blocks(Sequence[Block]):
    """All blocks in order. `blocks[i]` costs some microseconds; equal lines share their words."""

    def __init__(
        self, source: Source, columns: Columns, readings: Mapping[bytes, Reading], notes: NDArray[np.int64]
    ) -> None:
        self._source = source
        self._columns = columns
        self._readings = readings
        self._notes = notes
        self._noted = frozenset(np.searchsorted(source.starts, notes[:, 0], "right").tolist())
        self._words: dict[bytes, tuple[Word, ...]] = {}
        self._built: dict[int, Block] = {}

    def __len__(self) -> int:
        return len(self._columns.line)

    @overload
    def __getitem__(self, index: int) -> Block: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[Block]: ...
    def __getitem__(self, index: int | slice) -> Block | Sequence[Block]:
        if isinstance(index, slice):
            return tuple(self[i] for i in range(*index.indices(len(self))))
        known = self._built.get(index)
        if known is None:
            if len(self._built) >= _KEPT:
                self._built.clear()
            known = self._built[index] = self._block(index)
        return known

    def _block(self, index: int) -> Block:
        at = index + len(self) if index < 0 else index
        if not 0 <= at < len(self):
            raise IndexError(f"block {index} of {len(self)}")
        line = int(self._columns.line[at])
        text = self._source.line_bytes(line)
        if not self._columns.plain[at]:
            return self._readings[text].block(at, line)
        words = self._words.get(text)
        if words is None:
            if len(self._words) >= _KEPT:
                self._words.clear()
            words = self._words[text] = self._plain_words(at, line)
        return Block(at, line, words, comments=self._comments(line))

    def _plain_words(self, at: int, line: int) -> tuple[Word, ...]:
        columns, data = self._columns, self._source.data
        start = int(self._source.starts[line - 1])
        some = slice(int(columns.row[at]), int(columns.row[at + 1]))
        words = []
        parts = (columns.letter, columns.mantissa, columns.decimals, columns.offset, columns.size)
        for letter, mantissa, decimals, offset, size in zip(*(part[some].tolist() for part in parts), strict=True):
            text = data[offset : offset + 1 + size].decode("ascii")
            number = Number(text[1:].lstrip(" \t"), mantissa, decimals)
            words.append(Word(chr(letter), number, None, offset - start + 1, text))
        return tuple(words)

    def _comments(self, line: int) -> tuple[Comment, ...]:
        if line not in self._noted:
            return ()
        low, high = np.searchsorted(self._notes[:, 0], (self._source.starts[line - 1], self._source.ends[line - 1]))
        return tuple(note_at(self._source, line, *map(int, self._notes[k])) for k in range(int(low), int(high)))


def note_at(source: Source, line: int, start: int, end: int) -> Comment:
    """The comment in bytes `start` to `end` of an ASCII line."""
    text = source.data[start:end].decode("ascii")
    column = start - int(source.starts[line - 1]) + 1
    return Comment(text[1:], line, column, "semicolon") if text[0] == ";" else Comment(text[1:-1], line, column)
