"""Looking ahead: the blocks that make the next moves, for what rests on two blocks (corners, lines that meet by their angles)."""

from __future__ import annotations

from verifier.control.codes import MODAL
from verifier.control.computed import looked_at
from verifier.control.context import Ahead, has_axis_words
from verifier.control.instruction import Instruction, canonical, instruction, unskipped
from verifier.control.run import Run
from verifier.syntax import Block

_QUIET = frozenset(("feed_mode", "speed_mode", "path_mode", "compensation"))
_MOVING = ("G01", "G02", "G03")
_STOPS = (0, 1, 2, 30, 98, 99)
_LINES = ("A", ",A")


class AheadRunner(Run):
    """The part of an execution that reads blocks before they are executed."""

    def _ahead(self, count: int) -> Ahead | None:
        """The block that makes the move number `count` after the present one (0: the next). None where nobody can say here."""
        frame = self._frames[-1]
        at, end = self._here
        passed: list[str] = []
        for index in range(at + 1, end):
            block = frame.program.blocks[index]
            if block.flaws or block.macros:
                return None
            given = unskipped(block, self._skipped)
            ins = instruction(block, tuple(looked_at(self._ctx, given)), self.machine)
            if ins.symbolic or not _plain(ins):
                return None
            if has_axis_words(ins) or any(letter in ins.words for letter in _LINES):
                if count == 0:
                    return Ahead(ins, self._attributed(block), " ".join(passed))
                count -= 1
            words = canonical([word for word in block.words if word.letter != "N"])
            if words and not has_axis_words(ins):
                passed.append(words)
        return None

    def _attributed(self, block: Block) -> int:
        attributed = self._frames[-1].attributed
        return block.index if attributed is None else attributed


def _plain(ins: Instruction) -> bool:
    """Whether a block only moves, or sets feed, speed or spindle: nothing that makes the next move start anywhere else."""
    for code, _ in ins.g:
        group = MODAL.get(code, ("", ""))[0]
        if group not in _QUIET and code not in _MOVING:
            return False
    return not (ins.has("TO") or any(code in _STOPS for code, _ in ins.m))
