"""The rule `block-longer-than-control-takes`."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from verifier.findings.examples import lathe, turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.view import Hazard, ProgramView

_NOTE = "G01 X50. F0.2 (FINISH THE SEAT)"


class BlockLongerThanControlTakes(ProgramRule):
    """A line has more characters than the machine profile says that a block of this control may have.

    Such a control stops with an alarm there, or reads the block without its end: the words that stand last are lost. Spaces and notes count, too
    (common practice, no source).
    """

    id = "block-longer-than-control-takes"
    revision = 1
    weight = Weight.MAJOR
    title = "A block is longer than the control takes."
    watch = "Make the line shorter, and compare it on the control's screen with the file after loading."
    examples = (
        Example("31 characters where 30 are taken", turning(_NOTE), True, line=7, machine=lathe(longest_block=30)),
        Example("as many as are taken", turning(_NOTE), False, machine=lathe(longest_block=31)),
        Example(
            "a note on a line of its own",
            turning(f"(SEAT {'-' * 30})\nG01 X50. F0.2"),
            True,
            line=8,
            machine=lathe(longest_block=30),
        ),
        Example("the profile does not say how many", turning(_NOTE), False),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Each line that is too long; one without words at the block behind it."""
        longest = program.machine.longest_block
        if longest is None or not program.program.blocks:
            return
        source, lines = program.program.source, program.program.columns.line
        length = source.ends - source.starts
        for line in (np.flatnonzero(length > longest) + 1).tolist():
            block = min(int(np.searchsorted(lines, line)), len(lines) - 1)
            count = len(source.line_bytes(line).rstrip())
            if count > longest:
                title = f"Line {line} has {count} characters; this control takes {longest} in a block"
                yield Hazard(block, title, f"line of {count}")
