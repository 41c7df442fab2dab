"""The rule `jump-or-loop-wrong`."""

from __future__ import annotations

from types import MappingProxyType
from typing import ClassVar

from verifier.findings.examples import turning
from verifier.findings.faults import FaultRule
from verifier.findings.model import Weight
from verifier.findings.rule import Example


class JumpOrLoopWrong(FaultRule):
    """A jump leads to a block that is not there, or that is there twice; or a loop is not closed as it was opened.

    The control stops with an alarm in the middle of the work, or goes on somewhere that nobody meant.
    """

    id = "jump-or-loop-wrong"
    revision = 1
    weight = Weight.MAJOR
    title = "A jump or a loop that does not say clearly where the run goes on."
    watch = "Search the block number in the program; step the jump in single block."
    codes = ("jump-label-missing", "jump-label-repeated", "jump-into-loop", "loop-wrong")
    weights: ClassVar = MappingProxyType({"jump-label-missing": Weight.CRITICAL})
    examples = (
        Example("to no block", turning("GOTO90"), True, line=7),
        Example("to a block that is there twice", turning("GOTO90\nN90 G01 X58. F0.1\nN90 X59."), True, line=7),
        Example("a loop without its end", turning("WHILE[#500LT3]DO1\nG01 X58. F0.1"), True, line=7),
        Example("an end without its loop", turning("G01 X58. F0.1\nEND2"), True, line=8),
        Example("loops that cross", turning("#1=0\nWHILE[#1LT1]DO1\nDO2\n#1=1\nEND1\nEND2"), True, line=9),
        Example("into a loop", turning("#1=0\nGOTO80\nWHILE[#1LT1]DO1\nN80 #1=#1+1\nEND1"), True, line=8),
        Example("to a block that is there", turning("GOTO90\nG01 X5. F0.1\nN90 G01 X58. F0.1"), False),
    )
