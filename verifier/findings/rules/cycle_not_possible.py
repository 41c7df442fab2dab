"""The rule `cycle-not-possible`."""

from __future__ import annotations

from verifier.findings.examples import turning
from verifier.findings.faults import FaultRule
from verifier.findings.model import Weight
from verifier.findings.rule import Example

_CYCLE = "G71 P100 Q110 U0.5 W0.1 F0.3\nN100 G00 X30.\nG01 Z-20. F0.1\nN110 X62."


class CycleNotPossible(FaultRule):
    """A canned cycle cannot be carried out with the words it is given.

    An amount is missing, zero or has the wrong sign, the contour turns back or is no contour, or the start is inside the part. The control stops
    with an alarm, or makes something else of it: a rapid into the stock, one pass at full depth.
    """

    id = "cycle-not-possible"
    revision = 2
    weight = Weight.CRITICAL
    title = "A cycle that cannot be carried out as it is written."
    watch = "Do not start. Have the amounts of the cycle and its contour put right first."
    codes = (
        "contour-empty",
        "too-many-strokes",
        "passes-not-positive",
        "peck-without-depth",
        "peck-not-positive",
        "step-missing",
        "step-not-positive",
        "amount-negative",
        "contour-too-short",
        "depth-not-positive",
        "contour-kind",
        "contour-without-travel",
        "contour-turns-back",
        "start-inside-contour",
        "contour-with-pocket",
        "taper-longer-than-travel",
        "thread-without-depth",
        "thread-angle-wrong",
        "thread-height-not-positive",
        "thread-depth-not-positive",
        "allowance-not-below-height",
        "finish-passes-not-positive",
        "thread-without-length",
        "lead-not-positive",
        "pull-out-negative",
        "pull-out-longer-than-thread",
        "cycle-amount-missing",
        "cycle-in-contour",
        "flow-code-in-contour",
        "hole-without-depth",
        "r-level-beyond-bottom",
        "repeats-negative",
        "infeed-pattern-unknown",
    )
    examples = (
        Example("no depth of cut", turning(_CYCLE), True, line=7),
        Example("depth of zero", turning("G71 U0 R0.5\n" + _CYCLE), True, line=8),
        Example(
            "negative thread height", turning("G00 X40.\nG76 P010060 Q50 R0.05\nG76 X27. Z-20. P-1227 Q300 F2."), True
        ),
        Example("R level below the bottom of a hole", turning("G83 X0. Z-10. R-15. F0.1\nG80"), True, line=7),
        Example("as it should be", turning("G71 U2. R0.5\n" + _CYCLE), False),
    )
