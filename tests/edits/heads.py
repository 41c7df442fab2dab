"""Where the sequences of a program begin, worked out from its lines without the product."""

from __future__ import annotations

from collections.abc import Sequence

from tests.edits.words import Line


def heads(lines: Sequence[Line]) -> list[int]:
    """Where sequences begin: the numbered line at or in front of each change of tool, else the first line behind the work before it."""
    found, tool = [], None
    for k, line in enumerate(lines):
        word = line.word("T") if line.plain else None
        if word is None or int(word.value) == 0 or int(word.value) % 100 == 0 or word.number == tool:
            continue
        tool = word.number
        back = k
        while back > 0 and not (lines[back].word("N") and lines[back].plain) and not _works(lines[back - 1]):
            back -= 1
        found.append(back)
    return found


def _works(line: Line) -> bool:
    """Whether a line is of the work before a sequence: it moves, stops, or puts spindle or coolant off."""
    letters = {word.letter for word in line.words}
    moves = bool({"X", "Z", "U", "W"} & letters) and not line.has("G50", "G92")
    return moves or "O" in letters or line.has("M00", "M01", "M05", "M09", "M30")


__all__ = ["heads"]
