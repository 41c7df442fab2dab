"""What the parts of an execution share: the programs being executed, one inside the other, and how far it has come."""

from __future__ import annotations

from dataclasses import dataclass

from verifier.control.context import Context
from verifier.control.instruction import Instruction
from verifier.control.recorder import Recorder
from verifier.control.units import Layout, Library
from verifier.machines import Machine
from verifier.syntax import Block, Program

BLOCK_LIMIT = 1_000_000
"""Blocks executed again after their first time: what lies beyond is named, not executed."""

MOVE_LIMIT = 5_000_000
"""Moves written out: what lies beyond is named, not executed."""


@dataclass(slots=True)
class Frame:
    """A program being executed: the one in the file, or one that was called."""

    program: Program
    layout: Layout
    pc: int
    end: int
    first: int
    caller: int
    repeats: int = 1
    attributed: int | None = None
    """The block that stands for all of a library program: the one that called it."""
    called_from: int = -1
    """The block that called it, as moves are attributed."""
    begun: tuple[int, int, object, int] = (0, 0, None, 0)
    """Blocks and moves executed when this pass began, where the tool stood, and which pass it is."""


class Run:
    """One execution while it goes on. `Executor` sets what is declared here."""

    _ctx: Context
    _record: Recorder
    _frames: list[Frame]
    _steps: int
    _here: tuple[int, int]
    """The block being executed, as its program counts, and where looking ahead ends (the contour's end, inside one)."""
    outside: Library
    machine: Machine

    def _enter(self, frame: Frame, block: Block) -> None:
        raise NotImplementedError

    def _block(self, block: Block) -> tuple[int | None, Instruction | None]:
        raise NotImplementedError

    def _skipped(self, level: int) -> bool:
        raise NotImplementedError
