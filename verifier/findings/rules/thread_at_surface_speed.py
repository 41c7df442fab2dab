"""The rule `thread-at-surface-speed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.compare import Item
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.spells import setter
from verifier.findings.thread_passes import thread_passes
from verifier.findings.view import Hazard, ProgramView
from verifier.geometry import spindle_speed

_PASSES = "{}\nG00 X22. Z4.\nG92 X19.3 Z-20. F1.5\nX18.9\nX18.6\nG00 X62."


class ThreadAtSurfaceSpeed(ProgramRule):
    """A thread is cut under constant surface speed.

    Every pass is cut at a smaller or a greater diameter, and so at another speed: the passes do not run in one groove. Threads are cut at a
    fixed speed (common practice, no source).
    """

    id = "thread-at-surface-speed"
    revision = 2
    weight = Weight.MAJOR
    title = "A thread is cut under constant surface speed."
    watch = "Put G97 with a speed in front of the thread; G96 again behind it."
    examples = (
        Example("G97 lost", turning(_PASSES.format("G96 S50")), True, line=7),
        Example("the clamp holds the speed", turning(_PASSES.format("G96 S300")), True, line=7),
        Example("fixed speed", turning(_PASSES.format("G97 S800")), False),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Every thread under constant surface speed; minor where the clamp holds one speed for all its passes."""
        for passes in thread_passes(program.items):
            first = passes[0]
            if first.state.speed_mode != "surface":
                continue
            speeds = {speed for item in passes for speed in _speeds(program, item)}
            held = len(speeds) == 1 and None not in speeds
            sequence = program.sequence_at(first)
            where = f" in {sequence.label}" if sequence is not None else ""
            words = (
                ": only the clamp holds its speed"
                if held
                else ": its speed changes with the diameter, from pass to pass"
            )
            set_by = program.trace.set_by[int(program.trace.moves.set_by[first.first])]
            set_at = setter(program.trace, set_by, "speed_mode")
            yield Hazard(
                first.block if set_at is None else set_at,
                f"Thread under constant surface speed{where}{words}",
                where.strip(),
                Weight.MINOR if held else None,
                effects=tuple(dict.fromkeys(item.block for item in passes))[:12],
            )


def _speeds(program: ProgramView, item: Item) -> Iterable[float | None]:
    for place in (item.start, item.end):
        yield None if place.bx else spindle_speed(item.state, place.x, program.machine)
