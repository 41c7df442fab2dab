"""The rule `allowance-against-cut`."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from verifier.control import CycleCall, Trace
from verifier.findings import shop
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.view import Hazard, ProgramView

_OUTSIDE = "G71 U2. R0.5\nG71 P100 Q110 U{} W{} F0.3\nN100 G00 X30.\nG01 Z-20. F0.1\nN110 X62."
_BORE = "G00 X20.\nG71 U1.5 R0.5\nG71 P100 Q110 U{} W0.1 F0.2\nN100 G00 X40.\nG01 Z-20. F0.1\nN110 X20."
_PATTERN = "G73 U4. W1. R3\nG73 P100 Q110 U{} W0.1 F0.3\nN100 G00 X30. Z1.\nG01 Z-20. F0.1\nN110 X62."
_CYCLES = ("G71", "G72", "G73")


class AllowanceAgainstCut(ProgramRule):
    """The finish allowance of a roughing cycle has the sign of the other side.

    It is meant to leave material for the finish. With the wrong sign roughing goes as far beyond the finished size: outside turned too small, a
    bore too large, a shoulder too deep.
    """

    id = "allowance-against-cut"
    revision = 1
    weight = Weight.CRITICAL
    title = "The finish allowance of a roughing cycle has the wrong sign."
    watch = "Do not start. U is positive for turning outside, negative in a bore; W is positive toward the chuck."
    examples = (
        Example("minus outside", turning(_OUTSIDE.format("-0.5", "0.1")), True, line=8),
        Example("plus in a bore", turning(_BORE.format("0.5")), True, line=9),
        Example("minus at the shoulders", turning(_OUTSIDE.format("0.5", "-0.1")), True, line=8),
        Example("minus in a pattern outside", turning(_PATTERN.format("-0.5")), True, line=8),
        Example("plus outside", turning(_OUTSIDE.format("0.5", "0.1")), False),
        Example("minus in a bore", turning(_BORE.format("-0.5")), False),
        Example("plus in a pattern outside", turning(_PATTERN.format("0.5")), False),
        Example("none at all", turning(_OUTSIDE.format("0", "0")), False),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Every roughing cycle whose last pass lies on one side of its start, and whose allowance goes to the other."""
        for call in program.trace.cycles:
            if call.code in _CYCLES and call.moves:
                yield from _wrong(program, call)


def _wrong(program: ProgramView, call: CycleCall) -> Iterator[Hazard]:
    trace = program.trace
    rows = _last_pass(trace, call)
    moves, first = trace.moves, call.first_move
    if not len(rows) or moves.bx0[first] or moves.bz0[first]:
        return
    for axis, start, ends in (("X", moves.x0[first], moves.x1[rows]), ("Z", moves.z0[first], moves.z1[rows])):
        amount = call.amounts.get(f"finish allowance in {axis}")
        side = _side(int(start), ends)
        if amount is None or not amount.value * side < 0:
            continue
        shown = shop.millimetres(abs(amount.value), program.units)
        is_bore = axis == "X" and side < 0
        wrong = ("the bore is roughed {} too large" if is_bore else "roughed {} too small") if axis == "X" else (
            "roughed {} too deep along Z"
        )  # fmt: skip
        title = f"The finish allowance of {call.name} in {axis} is {_signed(amount.value, shown)}, on the side of the finished part: {wrong}"
        yield Hazard(call.block, title.format(shown), axis)


def _last_pass(trace: Trace, call: CycleCall) -> NDArray[np.int64]:
    """The moves at a feed of the pass that comes nearest to the finished shape: the last one."""
    rows = np.arange(call.first_move, call.first_move + call.moves)
    cuts = rows[trace.moves.kind[rows] > 0]
    return cuts[trace.moves.step[cuts] == trace.moves.step[cuts[-1]]] if len(cuts) else cuts


def _side(start: int, ends: NDArray[np.int64]) -> int:
    """1 where the cycle starts beyond the whole pass (outside, in front of it), -1 where it starts below, 0 where neither is plain."""
    above, below = int(ends.max()) - start, start - int(ends.min())
    return (above < below) - (above > below)


def _signed(value: Fraction, shown: str) -> str:
    return f"-{shown}" if value < 0 else shown
