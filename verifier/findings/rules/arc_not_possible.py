"""The rule `arc-not-possible`."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from math import hypot

import numpy as np
from numpy.typing import NDArray

from verifier.control import Fault, Kind, Trace
from verifier.findings import shop
from verifier.findings.examples import turning
from verifier.findings.faults import FaultRule, sentence
from verifier.findings.model import Weight
from verifier.findings.rule import Example
from verifier.findings.view import Hazard, ProgramView


class ArcNotPossible(FaultRule):
    """The radius or the centre of an arc does not fit its start and its end.

    Some controls stop with an alarm in the middle of the part; others bend the curve or jump at its end, and the radius is scrap.
    """

    id = "arc-not-possible"
    revision = 1
    weight = Weight.MAJOR
    title = "An arc that does not fit its end points."
    watch = "Run this block in single block, clear of the part, and see whether the control takes it."
    codes = ("arc-impossible", "arc-ends-off-circle")
    examples = (
        Example("radius too short", turning("G01 X50. F0.2\nG02 X60. Z-20. R5."), True, line=8),
        Example("centre off", turning("G01 X50. Z0. F0.2\nG02 X60. Z-5. I5. K0.5"), True, line=8),
        Example("neither R nor I and K", turning("G01 X50. Z0. F0.2\nG02 X60. Z-5."), True, line=8),
        Example("in another plane, which is not computed here", turning("G17\nG02 X72. Z-5. R5. F0.2"), True, line=8),
        Example("fits", turning("G01 X50. Z0. F0.2\nG02 X60. Z-5. R5."), False),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Each arc that does not fit; those in another plane, which are not computed here, once for each plane."""
        planes = _other_planes(program.trace)
        first: dict[str, Hazard] = {}
        more: dict[str, list[int]] = {}
        for hazard in super().check(program):
            plane = planes.get(hazard.block)
            if plane is None:
                yield hazard
            else:
                first.setdefault(plane, hazard)
                more.setdefault(plane, []).append(hazard.block)
        for plane, hazard in first.items():
            yield replace(hazard, same_as=plane, effects=tuple(more[plane][1:13]))

    def title_of(self, fault: Fault, program: ProgramView) -> str:
        """What does not fit; an arc without any measure is most often a straight move behind one."""
        if fault.code == "arc-ends-off-circle":
            gap = _gap(program.trace, fault.block)
            if gap is not None:
                return f"The end of the arc lies {shop.length(gap, program.units)} off the circle about its centre"
        if fault.code == "arc-impossible" and not fault.text:
            return (
                "A move while G02 or G03 is in force has neither R nor I and K: some controls go straight, others stop"
            )
        return sentence(fault.message)


def _arcs(trace: Trace) -> NDArray[np.int64]:
    return np.flatnonzero(np.isin(trace.moves.kind, (Kind.ARC_CW, Kind.ARC_CCW)))


def _other_planes(trace: Trace) -> dict[int, str]:
    """Blocks with an arc in another plane than that of X and Z, and the plane."""
    rows = _arcs(trace)
    pairs = zip(trace.moves.block[rows].tolist(), trace.moves.state[rows].tolist(), strict=True)
    planes = {block: trace.states[state].plane for block, state in pairs}
    return {block: plane for block, plane in planes.items() if plane in ("G17", "G19")}


def _gap(trace: Trace, block: int) -> int | None:
    """By how many ticks the two radii of a block's arc differ; None where its move is a cycle's."""
    m = trace.moves
    rows = [k for k in np.flatnonzero(m.block == block).tolist() if m.kind[k] in (Kind.ARC_CW, Kind.ARC_CCW)]
    if not rows:
        return None
    k = rows[0]
    x0, z0, x1, z1, cx, cz = (int(column[k]) for column in (m.x0, m.z0, m.x1, m.z1, m.cx, m.cz))
    return round(abs(hypot(x0 - cx, z0 - cz) - hypot(x1 - cx, z1 - cz)))
