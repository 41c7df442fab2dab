"""The rule `bore-retract-outward`."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from verifier.control import TICKS_PER_MM, Moves
from verifier.findings import shop
from verifier.findings.contacts import contact_hazards
from verifier.findings.examples import on_bar, sheet, turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.spells import cutting
from verifier.findings.view import Hazard, ProgramView
from verifier.geometry import BORE_LEFT_SIDEWAYS
from verifier.machines import Tool

_BORE = "G00 X40.\nG01 Z-20. F0.15\n{}\nG00 Z5."
_SHEET = sheet(Tool(1, "boring"))
_DRILL = Tool(1, "drill", diameter=Fraction(20), point_angle=Fraction(118), orientation=7)
_DRILLED = "G00 X0.\nG01 Z-30. F0.1\nG00 X30.\nZ5."


class BoreRetractOutward(ProgramRule):
    """A boring bar or a drill leaves its bore sideways: a rapid takes it outward in X into the wall around it.

    Outside, a tool comes clear by a larger diameter; in a bore that drives the edge into the wall, at rapid. It comes clear toward the centre
    line first, then out along Z. With the stock and the tool in the setup sheet it is judged by the material that is left.
    """

    id = "bore-retract-outward"
    revision = 3
    weight = Weight.CRITICAL
    title = "A tool leaves its bore sideways, into the wall."
    watch = "Do not start. Let the bar come clear toward the centre line, then out of the bore."
    examples = (
        Example("to a larger diameter", turning(_BORE.format("G00 X44.")), True, line=9, setup=_SHEET),
        Example("both axes at once", turning(_BORE.format("G00 X44. Z5.")), True, line=9, setup=_SHEET),
        Example("toward the centre line", turning(_BORE.format("G00 X38.")), False, setup=_SHEET),
        Example("straight out", turning(_BORE.format("G00 Z2.")), False, setup=_SHEET),
        Example(
            "from a shoulder, no farther than the bore",
            turning(_BORE.format("X30.\nG00 X39.")),
            False,
            setup=_SHEET,
        ),
        Example("a drill in its hole", turning(_DRILLED), True, line=9, setup=on_bar(_DRILL)),
        Example(
            "a drill out of it", turning(_DRILLED.replace("G00 X30.", "G00 Z5.\nX30.")), False, setup=on_bar(_DRILL)
        ),
        Example("a tool for outside", turning(_BORE.format("G00 X44.")), False, setup=sheet(Tool(1, "turning"))),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Every rapid that takes a tool for bores into the wall around it; where the part is not computed, by the paths of the bars' own cuts."""
        told = list(
            contact_hazards(program, BORE_LEFT_SIDEWAYS, "{tool} leaves its bore sideways, {amount} into its wall")
        )
        yield from told
        part = program.side.part()
        if part is None or not part.certain:
            blocks = {hazard.block for hazard in told}
            yield from (hazard for hazard in self._by_path(program) if hazard.block not in blocks)

    def _by_path(self, program: ProgramView) -> Iterable[Hazard]:
        """Every rapid of a boring bar that goes outward from where only a smaller bore was cut, behind the front of its cuts."""
        setup, trace = program.side.setup, program.trace
        bars = {n for n, tool in setup.tools.items() if tool.kind == "boring"} if setup is not None else set()
        moves = trace.moves
        tools = np.array([t if isinstance(t := s.tool, int) else -1 for s in trace.states], np.int64)[moves.state]
        cuts = cutting(trace)
        cuts = cuts[(cuts + 1 < len(moves)) & np.isin(tools[cuts], list(bars))]
        out = cuts + 1
        leaving = (
            (moves.kind[out] == 0) & (tools[out] == tools[cuts]) & (moves.x1[out] > moves.x0[out]) & (moves.x0[out] > 0)
        )
        for row in cuts[leaving].tolist():
            wall, goes = _wall(moves, tools, row), int(moves.x1[row + 1])
            if wall is not None and goes > wall:
                by = shop.millimetres(Fraction(goes - wall, TICKS_PER_MM), program.units)
                title = f"The boring bar of T{tools[row]} retracts {by} outward, past the wall that it has cut"
                yield Hazard(int(moves.block[row + 1]), title, "outward", effects=(int(moves.block[row]),))


def _wall(moves: Moves, tools: NDArray[np.int64], row: int) -> int | None:
    """The largest radius that this tool has cut at the depth where a cut ends (ticks); None where a place is not known, or outside the bore."""
    other = np.flatnonzero(tools[:row] != tools[row])
    rows = np.arange(int(other[-1]) + 1 if len(other) else 0, row + 1)
    rows = rows[moves.kind[rows] > 0]
    if moves.bx1[rows].any() or moves.bz1[rows].any() or moves.bx0[rows].any() or moves.bz0[rows].any():
        return None
    z = int(moves.z1[row])
    front = int(np.maximum(moves.z0[rows], moves.z1[rows]).max())
    there = rows[(np.minimum(moves.z0[rows], moves.z1[rows]) <= z) & (np.maximum(moves.z0[rows], moves.z1[rows]) >= z)]
    if z >= front or not len(there):
        return None
    return int(np.maximum(moves.x0[there], moves.x1[there]).max())
