"""The rule `groove-step-wider-than-blade`."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from verifier.control import TICKS_PER_MM, CycleCall, Trace
from verifier.findings import shop
from verifier.findings.examples import sheet, turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.view import Hazard, ProgramView
from verifier.machines import Tool

_GROOVE = "G75 R0.5\nG75 X50. Z-20. P1500 Q{} F0.08"
_BLADE = sheet(Tool(1, "grooving", blade_width=Fraction(3)))


class GrooveStepWiderThanBlade(ProgramRule):
    """The grooving cycle steps over by more than its blade is wide.

    A ring is left standing between the columns. The next column bends the blade against it, or the ring comes off and jams.
    """

    id = "groove-step-wider-than-blade"
    revision = 1
    weight = Weight.MAJOR
    title = "The step of a grooving cycle is wider than its blade."
    watch = "Compare Q of the cycle with the width of the blade in the turret."
    examples = (
        Example("4 mm with a blade of 3", turning(_GROOVE.format(4000)), True, line=8, setup=_BLADE),
        Example("2 mm", turning(_GROOVE.format(2000)), False, setup=_BLADE),
        Example(
            "a step beyond the groove's own width",
            turning(_GROOVE.format(90000).replace("-20.", "-0.5")),
            False,
            setup=_BLADE,
        ),
        Example("blade not known", turning(_GROOVE.format(4000)), False),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Every G75 whose columns lie farther apart than the blade of its tool is wide."""
        trace, setup = program.trace, program.side.setup
        for call in trace.cycles:
            if setup is None or call.code != "G75" or not call.moves or "step" not in call.amounts:
                continue
            number = trace.states[int(trace.moves.state[call.first_move])].tool
            tool = setup.tools.get(number) if isinstance(number, int) else None
            blade = tool.blade_width if tool is not None else None
            step = min(abs(call.amounts["step"].value), _width(trace, call))
            if blade is not None and step > blade:
                shown, width = (shop.millimetres(amount, program.units) for amount in (step, blade))
                title = f"The groove is cut in steps of {shown} with a blade of {width}: a ring stays between"
                yield Hazard(call.block, title, f"{step} {blade}")


def _width(trace: Trace, call: CycleCall) -> Fraction:
    """How far a cycle's columns reach along Z in mm."""
    ends = trace.moves.z1[call.first_move : call.first_move + call.moves]
    return Fraction(int(ends.max() - ends.min()), TICKS_PER_MM)
