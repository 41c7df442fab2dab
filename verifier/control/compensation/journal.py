"""What execution notes down about moves under compensation, so that the tool's path can be worked out once all moves are known."""

from __future__ import annotations

from typing import NamedTuple

from verifier.control.compensation.nose import NoseData

COMPENSATED = ("G41", "G42")
"""The values of the modal state "compensation" under which the nose keeps to one side of the contour."""


class Note(NamedTuple):
    """One move under compensation: its row, the nose in force, how many blocks had been executed, and why the move itself is not compensated ("")."""

    row: int
    nose: NoseData
    blocks: int
    apart: str


class Journal:
    """The notes of one execution, in order."""

    def __init__(self) -> None:
        self.blocks = 0
        """Blocks executed so far: a control looks ahead over so many of them."""
        self.notes: list[Note] = []

    def block(self) -> None:
        """Another block is executed."""
        self.blocks += 1

    def move(self, row: int, nose: NoseData, apart: str) -> None:
        """The move about to be recorded as `row` is made while compensation is on."""
        self.notes.append(Note(row, nose, self.blocks, apart))
