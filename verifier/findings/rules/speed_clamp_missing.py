"""The rule `speed-clamp-missing`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings import shop
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.view import Hazard, ProgramView

_CUT = "G01 X20. F0.2\nX62."


class SpeedClampMissing(ProgramRule):
    """The spindle turns under constant surface speed and no speed clamp is established.

    What limits the speed is then whatever was left from before, or only the machine's maximum: toward the centre line the chuck may be
    driven past the speed at which it still holds.
    """

    id = "speed-clamp-missing"
    revision = 1
    weight = Weight.CRITICAL
    people = True
    title = "Constant surface speed without a speed clamp."
    watch = "Do not start before a clamp suited to the work-holding stands in front of the surface speed."
    examples = (
        Example("no G50 S in the program", turning(_CUT).replace("G50 S2000\n", ""), True, line=4),
        Example("clamp first", turning(_CUT), False),
        Example(
            "fixed speed needs none", turning(_CUT).replace("G50 S2000\n", "").replace("G96 S180", "G97 S900"), False
        ),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Every block that started constant surface speed with no clamp established, once."""
        trace = program.trace
        moves = trace.moves
        seen: dict[int, list[int]] = {}
        for state, set_by, block in zip(moves.state.tolist(), moves.set_by.tolist(), moves.block.tolist(), strict=True):
            found = trace.states[state]
            if found.speed_mode == "surface" and found.clamp is None and found.sense in ("forward", "reverse"):
                origin = trace.set_by[set_by][found._fields.index("speed_mode")]
                start = trace.origins.blocks(origin, 1) if origin >= 0 else ()
                seen.setdefault(start[0] if start else block, []).append(block)
        for block, blocks in seen.items():
            shown = shop.clamp(program.machine.spindle.max_rpm)
            yield Hazard(
                block,
                f"Constant surface speed with no speed clamp established: the spindle may go to {shown}",
                effects=tuple(dict.fromkeys(blocks))[:12],
            )
