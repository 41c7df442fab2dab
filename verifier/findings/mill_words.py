"""Words that speak for a mill in a program that is read as a lathe's: two kinds of them and more, and it is no lathe's program.

Common practice, no source: a lathe without a Y axis has no use for Y, nor for an arc about J, and its T word holds the offset of length that a
mill calls by G43 and H.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from verifier.control import meant
from verifier.findings.view import ProgramView
from verifier.syntax import Block

_LETTERS = {"Y": "Y words", "J": "arcs about J"}
_LENGTH = {43: "tool length by G43", 44: "tool length by G44", 49: "tool length ended by G49"}
_KINDS = {**_LETTERS, "G": "tool length"}
_CALLS = frozenset(("G65", "G66"))
LEAST = 2
"""So many kinds of such words make it a mill's program: one alone is a slip."""


def mill_words(program: ProgramView) -> dict[str, int]:
    """What speaks for a mill, in words, each with the first block that holds it; empty for a lathe with a Y axis, or where one kind stands alone."""
    if "Y" in program.machine.axes:
        return {}
    found: dict[str, tuple[str, int]] = {}
    for block in _suspects(program):
        if _CALLS & {meant(word, program.machine) for word in block.words if word.letter == "G"}:
            continue
        for word in block.words:
            number = word.number.mantissa if word.number is not None else -1
            told = _LENGTH.get(number, "") if word.letter == "G" else _LETTERS.get(word.letter, "")
            if told:
                found.setdefault(_KINDS[word.letter], (told, block.index))
    return dict(found.values()) if len(found) >= LEAST else {}


def _suspects(program: ProgramView) -> Iterator[Block]:
    """The blocks with such words, without walking through every block."""
    columns = program.program.columns
    wanted = (columns.letter == ord("G")) & np.isin(columns.mantissa, list(_LENGTH))
    wanted |= np.isin(columns.letter, [ord(letter) for letter in _LETTERS])
    owner = np.repeat(np.arange(len(columns.line)), np.diff(columns.row))
    blocks = ~columns.plain
    blocks[owner[wanted]] = True
    for index in np.flatnonzero(blocks).tolist():
        yield program.block(index)
