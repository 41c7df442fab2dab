"""The rule `motion-not-established`."""

from __future__ import annotations

from verifier.findings.faults import FaultRule
from verifier.findings.model import Weight
from verifier.findings.rule import Example


class MotionNotEstablished(FaultRule):
    """A block names a point before the program has said how to go there.

    The axes travel as the last program left it: at rapid where a feed was meant, or at a feed where nothing turns. Only the machine knows.
    """

    id = "motion-not-established"
    revision = 2
    weight = Weight.MAJOR
    people = True
    title = "Axis words with no kind of motion, or no distance mode, established."
    watch = "Before this block, see on the control whether rapid or feed is in force."
    codes = ("motion-not-established", "distance-not-established")
    examples = (
        Example("no G00 in front", "O1000\nX62. Z2.\nG00 X100. Z50.\nM30\n", True, line=2),
        Example("G00 given", "O1000\nG00 X62. Z2.\nX100. Z50.\nM30\n", False),
    )
