"""The rule `run-does-not-end`."""

from __future__ import annotations

from verifier.findings.examples import turning
from verifier.findings.faults import FaultRule
from verifier.findings.model import Weight
from verifier.findings.rule import Example


class RunDoesNotEnd(FaultRule):
    """A program calls itself, calls too deeply, repeats without ever settling, or holds a loop that nothing ends.

    Each round may start from another place than the last, so that the tool creeps into the part or the chuck; what comes later was not checked.
    """

    id = "run-does-not-end"
    revision = 2
    weight = Weight.CRITICAL
    people = True
    title = "The run of the program does not come to an end."
    watch = "Do not start. Find the call or the repeat that never ends."
    codes = ("loop-without-end", "too-many-blocks", "repeat-does-not-settle", "call-too-deep")
    examples = (
        Example("calls itself", turning("M98 P8001") + "O8001\nG01 W-1. F0.2\nM98 P8001\nM99\n", True),
        Example("creeps with every repeat", "O1000\nG00 X62. Z2.\nG50 Z0.\nG00 W-1.\nM99\n", True, line=5),
        Example("jumps back for ever", turning("N50 G01 X58. F0.2\nX62.\nGOTO50"), True, line=9),
        Example("counts a billion", turning("#1=0\nWHILE[#1LT1000000000]DO1\n#1=#1+1\nEND1"), True, line=10),
        Example("counts to three", turning("#1=0\nWHILE[#1LT3]DO1\n#1=#1+1\nEND1"), False),
        Example("repeats the same", "O1000\nG00 X62. Z2.\nG01 Z-5. F0.2\nM99\n", False),
    )
