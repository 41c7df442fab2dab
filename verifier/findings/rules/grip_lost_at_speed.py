"""The rule `grip-lost-at-speed`."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction

import numpy as np

from verifier.findings.examples import on_bar, turning
from verifier.findings.loads import shown
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.spells import main_blocks, setter
from verifier.findings.view import Hazard, ProgramView
from verifier.geometry import MOST_LOST, grip_left, permitted_speed, turns
from verifier.machines import Grip, Setup, WorkHolding

_GRIP = Grip(Fraction(69_947), Fraction(4500), Fraction("2.668"))


def _held(grips: str) -> Setup:
    return replace(on_bar(), work_holding=WorkHolding("chuck", None, grips, "", (), _GRIP))


_CUT = "G01 X20. F0.2\nX62."


class GripLostAtSpeed(ProgramRule):
    """The jaws lose more of their grip at speed than may be lost, or keep less than the job needs.

    Their own mass pulls the jaws outward with the square of the speed. A piece that slips or comes out of the chuck kills. The formula is that of
    VDI 3106 and EN 1550, which lets speed take two thirds of the grip at rest; what is marked on the chuck holds even where more is computed.
    """

    id = "grip-lost-at-speed"
    revision = 1
    weight = Weight.CRITICAL
    people = True
    title = "The jaws do not grip enough at this speed."
    watch = (
        "Do not start. Set a lower clamp, or have the grip measured, and compare with the speed marked on the chuck."
    )
    examples = (
        Example("clamp at 1500 rev/min", turning(_CUT).replace("S2000", "S1500"), True, line=4, setup=_held("outside")),
        Example(
            "clamp raised",
            turning(_CUT).replace("S2000", "S1500"),
            True,
            turning(_CUT).replace("S2000", "S1200"),
            4,
            None,
            _held("outside"),
        ),
        Example("clamp at 1200", turning(_CUT).replace("S2000", "S1200"), False, setup=_held("outside")),
        Example("gripped from inside", turning(_CUT), False, setup=_held("inside")),
        Example("never so fast", turning("G01 X50. F0.2\nX62."), False, setup=_held("outside")),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """The fastest turning of every speed or clamp that is beyond what the grip permits, once for each block that set it."""
        setup, trace = program.side.setup, program.trace
        holding = setup.work_holding if setup is not None else None
        if holding is None or holding.grip is None or holding.grips is None:
            return
        top = np.nan_to_num(turns(trace, program.machine).top, nan=0.0)
        permitted = permitted_speed(holding.grip, holding.grips)
        fast = np.flatnonzero(top > permitted * (1 + 1e-9))
        home = main_blocks(trace)
        worst: dict[int, int] = {}
        for row in fast[np.argsort(-top[fast], kind="stable")].tolist():
            state, set_by = trace.states[int(trace.moves.state[row])], trace.set_by[int(trace.moves.set_by[row])]
            field = "clamp" if state.speed_mode == "surface" and isinstance(state.clamp, Fraction) else "speed"
            block = setter(trace, set_by, field)
            worst.setdefault(int(home[row]) if block is None else block, row)
        for block, row in worst.items():
            yield _told(block, holding.grip, holding.grips, float(top[row]), permitted, int(home[row]))

    def elsewhere(self, program: ProgramView, hazard: Hazard) -> str | None:
        """The fastest turning in the other program."""
        top = turns(program.trace, program.machine).top
        known = top[~np.isnan(top)]
        return shown(float(known.max()), 0, "rev/min") if len(known) else None


def _told(block: int, grip: Grip, grips: str, rpm: float, permitted: float, at: int) -> Hazard:
    left, rest = grip_left(grip, grips, rpm), float(grip.at_rest)
    lost = f"{100 * (1 - left / rest):.0f} % lost, {100 * MOST_LOST:.0f} % may be"
    if grip.needed is not None and left < float(grip.needed):
        lost = f"{shown(float(grip.needed), 0, 'N')} are needed"
    kept = f"keep {shown(left, 0, 'N')}" if left > 0 else "keep nothing"
    title = f"At {shown(rpm, 0, 'rev/min')} the jaws {kept} of {shown(rest, 0, 'N')} at rest: {lost}; {permitted:.0f} rev/min are permitted"
    return Hazard(block, title, "grip", after=shown(rpm, 0, "rev/min"), effects=(at,))
