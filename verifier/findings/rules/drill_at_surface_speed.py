"""The rule `drill-at-surface-speed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings import shop
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.spells import setter
from verifier.findings.view import Hazard, ProgramView

_DRILL = "G00 X0. Z5.\n{}\nG01 Z-30. F0.1\nG00 Z5."


class DrillAtSurfaceSpeed(ProgramRule):
    """A tool cuts along the centre line under constant surface speed: a drill, a reamer or a tap.

    On the centre line the diameter is nothing, so the spindle turns as fast as the clamp lets it, whatever S says. A drill burns, a tap breaks. Such
    tools run at a fixed speed (common practice, no source).
    """

    id = "drill-at-surface-speed"
    revision = 2
    weight = Weight.MAJOR
    people = True
    title = "A tool on the centre line runs under constant surface speed."
    watch = "Put G97 with the tool's own speed in front of it."
    examples = (
        Example("G96 still in force", turning(_DRILL.format("M08")), True, line=5),
        Example("fixed speed", turning(_DRILL.format("G97 S900")), False),
        Example("a face to the centre", turning("G01 X0. F0.2\nG00 Z5."), False),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """The first cut along the centre line of each sequence under constant surface speed."""
        told: set[int | None] = set()
        for item in program.cuts:
            along = not (item.start.x or item.end.x or item.start.bx or item.end.bx) and item.start.z != item.end.z
            sequence = program.sequence_at(item)
            index = sequence.index if sequence is not None else None
            if not along or item.state.speed_mode != "surface" or item.state.sense == "stopped" or index in told:
                continue
            told.add(index)
            set_at = setter(
                program.trace, program.trace.set_by[int(program.trace.moves.set_by[item.first])], "speed_mode"
            )
            clamp = shop.clamp(item.state.clamp if item.state.clamp is not None else program.machine.spindle.max_rpm)
            where = f" in {sequence.label}" if sequence is not None else ""
            yield Hazard(
                item.block if set_at is None else set_at,
                f"Cutting along the centre line{where} under constant surface speed: the spindle turns at {clamp}",
                where.strip(),
                effects=(item.block,),
            )
