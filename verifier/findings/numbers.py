"""Words of a program found by their letter, without walking through every block of a long program."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from verifier.control import TICKS_PER_INCH, TICKS_PER_MM, least_increment, meant
from verifier.findings.view import ProgramView
from verifier.machines import Machine
from verifier.syntax import Block, Number, Word

LENGTHS = "XZUWIKR"
"""Letters of coordinates and length amounts (I, K and R are those of arcs and cycles)."""


def executed_words(
    program: ProgramView, letters: str, *, pointed: bool, digits: int = 0
) -> Iterator[tuple[Block, Word, Number]]:
    """Words of these letters in blocks that are executed; not zero, with or without a point, with more than `digits` decimals."""
    columns, executed = program.program.columns, program.trace.executed
    wanted = np.isin(columns.letter, np.frombuffer(letters.encode(), np.uint8)) & (columns.mantissa != 0)
    wanted &= (columns.decimals >= 0) & (columns.decimals > digits) if pointed else columns.decimals < 0
    owner = np.repeat(np.arange(len(columns.line)), np.diff(columns.row))
    blocks = np.zeros(len(columns.line), np.bool_)
    blocks[owner[wanted]] = True
    for index in np.flatnonzero((blocks | ~columns.plain) & executed).tolist():
        block = program.block(index)
        for word in block.words:
            number = word.number
            if number is None or word.letter not in letters or number.pointed != pointed or not number.mantissa:
                continue
            if number.decimals > digits or not pointed:
                yield block, word, number


def writes_points(program: ProgramView) -> bool:
    """Whether the program writes lengths with a point as a habit: four fifths of those that are not zero."""
    columns = program.program.columns
    lengths = np.isin(columns.letter, np.frombuffer(LENGTHS.encode(), np.uint8)) & (columns.mantissa != 0)
    with_point = int((lengths & (columns.decimals >= 0)).sum())
    return with_point > 0 and with_point * 5 >= int(lengths.sum()) * 4


def codes(block: Block, machine: Machine) -> set[str]:
    """The G codes of a block, by their meaning."""
    return {meant(word, machine) for word in block.words if word.letter == "G"}


def increment(program: ProgramView) -> tuple[int, int, int]:
    """One least increment and one unit of length in ticks, and the most decimals that the increment always holds."""
    per_unit = TICKS_PER_INCH if program.units == "inch" else TICKS_PER_MM
    least = least_increment(program.machine, program.units)
    digits = max((d for d in range(8) if per_unit % 10**d == 0 and (per_unit // 10**d) % least == 0), default=0)
    return least, per_unit, digits
