"""The rule `states-must-not-meet`."""

from __future__ import annotations

from verifier.findings.examples import lathe, turning
from verifier.findings.faults import FaultRule
from verifier.findings.model import Weight
from verifier.findings.rule import Example

_CUT = "G01 Z-30. F0.2"
_LATHE = lathe(never_together=((("spindle", "reverse"), ("coolant", "on")),))


class StatesMustNotMeet(FaultRule):
    """Two states are in force together that the machine profile says must never meet.

    A chuck opened while the spindle turns throws the part; a quill driven into a turning chuck wrecks both.
    """

    id = "states-must-not-meet"
    revision = 1
    weight = Weight.CRITICAL
    settled = True
    people = True
    title = "Two states that must never be together."
    watch = "Do not start. Find out which of the two has to end first."
    codes = ("states-must-not-meet",)
    examples = (
        Example("coolant on in reverse, forbidden", turning(_CUT).replace("M03", "M04"), True, line=6, machine=_LATHE),
        Example("forward is allowed", turning(_CUT), False, machine=_LATHE),
        Example("nothing is forbidden on the generic lathe", turning(_CUT).replace("M03", "M04"), False),
    )
