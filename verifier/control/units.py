"""Where called programs come from: the same file, or the shop's library of subprograms."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np

from verifier.control.instruction import whole
from verifier.syntax import Program

PROGRAM_NUMBER = "O:"
"""Letters that begin a program number; the colon is that of programs punched by the ISO code (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Unit:
    """One program inside a file: its number (None for a file without one), and its blocks from `first` up to `end`."""

    number: int | None
    first: int
    end: int


@dataclass(frozen=True, slots=True)
class Layout:
    """How a file is divided into programs, and where its block numbers stand."""

    units: tuple[Unit, ...]
    labels: Mapping[int, tuple[int, ...]]
    """Label -> indices of the blocks that carry it, in order."""

    def unit_at(self, block: int) -> Unit:
        """The program that a block belongs to."""
        return next((u for u in self.units if u.first <= block < u.end), self.units[0])

    def unit(self, number: int) -> Unit | None:
        """The program of that number in this file."""
        return next((u for u in self.units if u.number == number), None)


def layout(program: Program) -> Layout:
    """Find the programs and the labels of a file."""
    starts: list[tuple[int, int | None]] = []
    labels: dict[int, list[int]] = {}
    for index, letter, value in _numbers(program):
        if letter in PROGRAM_NUMBER and (not starts or starts[-1][0] != index):
            starts.append((index, value))
        elif letter == "N" and labels.get(value, [-1])[-1] != index:
            labels.setdefault(value, []).append(index)
    if not starts:
        starts = [(0, None)]
    elif starts[0][0] > 0:
        # Words before the first program number belong to the program that starts there, unless a program has ended by then.
        if _ends_before(program, starts[0][0]):
            starts.insert(0, (0, None))
        else:
            starts[0] = (0, starts[0][1])
    starts = _without_doubles(program, starts)
    ends = [start for start, _ in starts[1:]] + [len(program.blocks)]
    units = tuple(Unit(number, first, end) for (first, number), end in zip(starts, ends, strict=True))
    return Layout(units, {label: tuple(where) for label, where in labels.items()})


def _without_doubles(program: Program, starts: list[tuple[int, int | None]]) -> list[tuple[int, int | None]]:
    """Heads of programs without one that only says again the number just said, with nothing in between."""
    kept = starts[:1]
    for start, number in starts[1:]:
        between = range(kept[-1][0], start)
        bare = len(between) < 8 and all(w.letter in "NO" for k in between for w in program.blocks[k].words)
        if number != kept[-1][1] or not bare:
            kept.append((start, number))
    return kept


def _ends_before(program: Program, index: int) -> bool:
    """Whether an M02, M30 or M99 stands before a block."""
    columns = program.columns
    letters = columns.letter[: int(columns.row[index])] == ord("M")
    if bool(np.isin(columns.mantissa[: len(letters)][letters], (2, 30, 99)).any()):
        return True
    odd = np.flatnonzero(~columns.plain[:index]).tolist()
    return any(word.letter == "M" and whole(word) in (2, 30, 99) for k in odd for word in program.blocks[k].words)


def _numbers(program: Program) -> list[tuple[int, str, int]]:
    """Every block number and program number: block index, letter, value, in order. Plain blocks are read from the columns."""
    columns = program.columns
    which = np.flatnonzero(
        ((columns.letter == ord("N")) | (columns.letter == ord("O")) | (columns.letter == ord(":")))
        & (columns.decimals < 0)
    )
    block = np.searchsorted(columns.row, which, "right") - 1
    values = columns.mantissa[which].tolist()
    letters = [chr(code) for code in columns.letter[which].tolist()]
    found = list(zip(block.tolist(), letters, values, strict=True))
    for index in np.flatnonzero(~columns.plain).tolist():
        for word in program.blocks[index].words:
            value = whole(word) if word.letter in "NO:" else None
            if value is not None:
                found.append((index, word.letter, value))
    return sorted(found, key=lambda entry: entry[0])


@dataclass(frozen=True, slots=True)
class Library:
    """Subprograms outside the file, by program number."""

    programs: Mapping[int, Program] = field(default_factory=dict)


def library_of(programs: Iterable[Program]) -> Library:
    """A library from parsed files: each file counts under every program number in it."""
    found: dict[int, Program] = {}
    for program in programs:
        for unit in layout(program).units:
            if unit.number is not None:
                found.setdefault(unit.number, program)
    return Library(found)
