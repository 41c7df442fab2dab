"""Block numbers that a program's own words name: labels of contours, of calls and of jumps. Changing one of them alone is no renumbering."""

from __future__ import annotations

import re

import numpy as np

from verifier.syntax import Block, Program

_JUMP = re.compile(r"GOTO\s*([0-9]{1,9})(?![0-9.])", re.IGNORECASE | re.ASCII)


def called_numbers(program: Program) -> frozenset[int]:
    """Every whole number in a P or Q word, and behind GOTO: rather one too many (a dwell's) than a label too few."""
    columns = program.columns
    asked = ~columns.plain
    owner = np.repeat(np.arange(len(columns.line)), np.diff(columns.row))
    asked[owner[np.isin(columns.letter, (ord("P"), ord("Q")))]] = True
    found: set[int] = set()
    for index in np.flatnonzero(asked).tolist():
        block = program.blocks[index]
        for word in block.words:
            if word.letter in "PQ" and word.number is not None and word.number.value.denominator == 1:
                found.add(int(word.number.value))
        for macro in block.macros:
            found.update(int(number) for number in _JUMP.findall(macro.text))
    return frozenset(found)


def number_of(block: Block) -> int | None:
    """A block's number; None where it has none."""
    word = next((w for w in block.words if w.letter == "N"), None)
    if word is None or word.number is None or word.number.value.denominator != 1:
        return None
    return int(word.number.value)


def label_lost(old: Block, new: Block, called_old: frozenset[int], called_new: frozenset[int]) -> bool:
    """Whether a block's number changed although the other program still names it: what it labelled is found elsewhere or nowhere."""
    before, after = number_of(old), number_of(new)
    return before != after and (before in called_new or after in called_old)
