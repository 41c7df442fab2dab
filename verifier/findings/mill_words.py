"""Words that speak for a mill, or a machine with a Y axis, in a program that is read as that of a lathe without one.

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
"""So many kinds of such words tell it: one alone is a slip."""
MANY_Y = 3
"""So many blocks with Y alone are no slip either."""


def mill_words(program: ProgramView) -> dict[str, int]:
    """What speaks for a mill, in words, each with the first block that holds it; empty for a machine with a Y axis, and for a slip."""
    if "Y" in program.machine.axes:
        return {}
    found: dict[str, tuple[str, int]] = {}
    with_y = 0
    for block in _suspects(program):
        if _CALLS & {meant(word, program.machine) for word in block.words if word.letter == "G"}:
            continue
        with_y += any(word.letter == "Y" for word in block.words)
        for word in block.words:
            number = word.number.mantissa if word.number is not None else -1
            told = _LENGTH.get(number, "") if word.letter == "G" else _LETTERS.get(word.letter, "")
            if told:
                found.setdefault(_KINDS[word.letter], (told, block.index))
    return dict(found.values()) if len(found) >= LEAST or with_y >= MANY_Y else {}


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
