"""The rule `speed-changes-within-thread`."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise

from verifier.findings import shop
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.spells import setter
from verifier.findings.thread_passes import thread_passes
from verifier.findings.view import Hazard, ProgramView

_PASSES = "G97 S800\nG00 X22. Z4.\nG92 X19.3 Z-20. F1.5\n{}X18.9\nX18.6\nG00 X62."


class SpeedChangesWithinThread(ProgramRule):
    """The spindle speed changes between two passes of one thread.

    The tool follows the spindle with a lag that grows with the speed. A pass at another speed runs beside the groove that the passes before
    it cut: the thread is spoiled, and the insert cuts with one flank.
    """

    id = "speed-changes-within-thread"
    revision = 2
    weight = Weight.MAJOR
    title = "The speed changes between the passes of a thread."
    watch = "Set one fixed speed before the first pass and leave it until the last, the override switch too."
    examples = (
        Example("S between two passes", turning(_PASSES.format("S900\n")), True, line=10),
        Example("the same speed said again", turning(_PASSES.format("S800\n")), False),
        Example("changed before the thread", turning("G97 S900\n" + _PASSES.format("")), False),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Every pass that is cut at another fixed speed than the one before it."""
        for passes in thread_passes(program.items):
            for before, here in pairwise(passes):
                speeds = [(item.state.speed_mode, item.state.speed) for item in (before, here)]
                if speeds[0] == speeds[1]:
                    continue
                shown = [shop.speed(speed, mode, program.units) for mode, speed in speeds]
                sequence = program.sequence_at(here)
                where = f" in {sequence.label}" if sequence is not None else ""
                set_at = _set_at(program, here.first)
                yield Hazard(
                    here.block if set_at is None else set_at,
                    f"The speed changes from {shown[0]} to {shown[1]} between two passes of a thread{where}",
                    f"{shown[0]} {shown[1]}",
                    effects=(here.block,),
                )


def _set_at(program: ProgramView, row: int) -> int | None:
    return setter(program.trace, program.trace.set_by[int(program.trace.moves.set_by[row])], "speed")
