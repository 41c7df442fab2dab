"""The rule `variable-not-set`."""

from __future__ import annotations

from verifier.findings.examples import turning
from verifier.findings.faults import FaultRule
from verifier.findings.model import Weight
from verifier.findings.rule import Example


class VariableNotSet(FaultRule):
    """A variable is used that nothing has set: an argument that was not passed, or a line that was lost.

    In a sum it counts as zero; a word with it is left out of its block, so that an axis stays where it is while the others move.
    """

    id = "variable-not-set"
    revision = 1
    weight = Weight.MAJOR
    title = "A variable that is not set."
    watch = "Find where the variable should have been set, or the argument passed; step the blocks that use it in single block."
    codes = ("variable-unset",)
    examples = (
        Example("in a word", turning("G01 X#1 Z-5. F0.1"), True, line=7),
        Example("in a sum", turning("G01 X[60.+#1] F0.1"), True, line=7),
        Example("an argument not passed", turning("G65 P8001 A60.") + "O8001\nG01 X#1 Z#26 F0.2\nM99\n", True),
        Example("set before", turning("#1=60.\nG01 X#1 F0.1"), False),
        Example("only asked for", turning("IF[#1EQ#0]THEN#1=60.\nG01 X#1 F0.1"), False),
    )
