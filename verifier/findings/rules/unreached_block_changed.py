"""The rule `unreached-block-changed`: nothing is dropped."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np
from numpy.typing import NDArray

from verifier.compare import Edit
from verifier.findings.engine import CoveredView
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn, ProgramView
from verifier.syntax import block_text


class UnreachedBlockChanged(ChangeRule):
    """A block was changed, or put where it stands, that no run of this program reaches, under any position of the switches.

    It does nothing today. It will when somebody calls it, jumps to it or takes the end above it away.
    """

    id = "unreached-block-changed"
    revision = 2
    weight = Weight.MINOR
    mirror = "unreached-block-changed"
    catch_all = True
    title = "A block that is not reached is changed."
    watch = "Ask why the block is there; it is not checked, because nothing runs it."
    examples = (
        Example(
            "behind the program end",
            turning("Z-1.", tail="M30\nG01 X5. F0.1\n"),
            True,
            old=turning("Z-1.", tail="M30\nG01 X4. F0.1\n"),
        ),
        Example(
            "put behind the program end",
            turning("Z-1.", tail="M30\nM09\n"),
            True,
            old=turning("Z-1.", tail="M09\nM30\n"),
        ),
        Example("reached", turning("Z-1."), False, old=turning("Z-1.5")),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Edits none of whose blocks is executed on either side; then blocks that only one side executes, by edits that nothing else tells."""
        assert isinstance(change, CoveredView)
        executed = [_executed(view) for view in change.views()]
        left: list[Edit] = []
        for edit in change.edits:
            if edit.index in change.covered_edits:
                continue
            if any(bool(side[list(blocks)].any()) for side, blocks in zip(executed, (edit.old, edit.new), strict=True)):
                left.append(edit)
                continue
            count = len(edit.new) or len(edit.old)
            words = f"{count} block{'s' if count > 1 else ''} changed that no run of the program reaches"
            yield Drawn(words, edits=(edit.index,))
        if left:
            yield from _left_behind(change, executed, left)


def _executed(view: ProgramView) -> NDArray[np.bool_]:
    """Whether any run of a program executes a block, by block."""
    found = np.zeros(len(view.program.blocks), np.bool_)
    for _, trace in view.traces:
        found |= trace.executed
    return found


def _left_behind(change: ChangeView, executed: list[NDArray[np.bool_]], left: list[Edit]) -> Iterator[Drawn]:
    """Blocks of both main programs that only one of them executes, and that this changes nothing else (a subprogram may lose its call)."""
    pairs = [
        (b, p)
        for b, p in enumerate(change.comparison.edits.alignment.old_to_new.tolist())
        if p >= 0 and change.old.sequence_of(b) is not None and change.new.sequence_of(p) is not None
    ]
    for before, words in ((True, "not reached any more"), (False, "reached that was not before")):
        found = [p for b, p in pairs if bool(executed[0][b]) is before and bool(executed[1][p]) is not before]
        if found:
            more = f" and {len(found) - 1} more" if len(found) > 1 else ""
            yield Drawn(
                f"{block_text(change.new.block(found[0]))}{more}: {words}",
                edits=tuple(edit.index for edit in left),
                effects=tuple(change.new.place(block) for block in found[:12]),
            )
