"""What the parts of an execution share: the programs being executed, one inside the other, and how far it has come."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from verifier.control.branches import Ways
from verifier.control.context import Context
from verifier.control.expressions import Stored
from verifier.control.instruction import Instruction
from verifier.control.loop_watch import LoopWatch, Mark, Snapshot
from verifier.control.recorder import Recorder
from verifier.control.units import Layout, Library
from verifier.machines import Machine
from verifier.syntax import Block, Program, Word

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
    home: int = 0
    """The call chain by which it was called; `caller` adds what was decided since."""
    inside: list[int] = field(default_factory=list)
    """The blocks of the DOs whose loops are open."""
    marks: dict[int, Mark] = field(default_factory=dict)
    """What was known when it last jumped back, by the block jumped to."""
    arguments: dict[int, Stored] | None = None
    """Its own local variables at the call (by G65, G66, or a code that stands for it); None where it shares its caller's."""
    entered: Snapshot = ()
    """All variables as they were when it was called."""
    modal: bool = False
    """Whether G66 called it after a move."""


class Run:
    """One execution while it goes on. `Executor` sets what is declared here."""

    _ctx: Context
    _record: Recorder
    _frames: list[Frame]
    _steps: int
    _here: tuple[int, int]
    """The block being executed, as its program counts, and where looking ahead ends (the contour's end, inside one)."""
    _ways: Ways
    _watch: LoopWatch
    _stopped: bool
    outside: Library
    machine: Machine

    def _enter(self, frame: Frame, block: Block) -> None:
        raise NotImplementedError

    def _block(self, block: Block) -> tuple[int | None, Instruction | None]:
        raise NotImplementedError

    def _words(self, block: Block, words: Sequence[Word]) -> tuple[int | None, Instruction | None]:
        raise NotImplementedError

    def _skipped(self, level: int) -> bool:
        raise NotImplementedError

    def _lose_place(self, label: str) -> None:
        raise NotImplementedError

    def _computed(self, words: Sequence[Word]) -> list[Word]:
        raise NotImplementedError

    def _enter_program(
        self,
        frame: Frame,
        number: int | None,
        label: int | None,
        repeats: int,
        words: str,
        *,
        packed: bool = False,
        arguments: dict[int, Stored] | None = None,
        modal: bool = False,
    ) -> None:
        raise NotImplementedError

    def _jump(self, frame: Frame, target: int, here: int) -> int | None:
        raise NotImplementedError
