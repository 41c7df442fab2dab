"""The rule `wait-unmatched`."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from verifier.findings.examples import turning
from verifier.findings.faults import FaultRule
from verifier.findings.model import Weight
from verifier.findings.rule import Example
from verifier.machines import FrozenMap, Setup, generic_lathe

_MACHINE = replace(generic_lathe(), wait_codes=((100, 199),))
_SHEET = Setup(
    "sheet", None, None, FrozenMap({}), FrozenMap[int, Fraction]({}), FrozenMap({}), (), "", other_channel=2000
)


def _pair(first: str, second: str) -> str:
    return turning(f"{first}\nG01 X58. F0.2") + f"O2000\n{second}\nM30\n"


class WaitUnmatched(FaultRule):
    """The programs of the two channels do not come to the same wait codes in the same order.

    Where they part, either both channels stand still, with the spindle turning and a tool in the cut, or one goes on without the other and the two
    turrets meet.
    """

    id = "wait-unmatched"
    revision = 1
    weight = Weight.CRITICAL
    title = "The two channels do not wait for each other at the same places."
    watch = "Lay both programs side by side and tick each wait code off; run both channels in single block before anything is cut."
    codes = ("wait-unmatched",)
    examples = (
        Example("another code", _pair("M101", "M102"), True, line=7, machine=_MACHINE, setup=_SHEET),
        Example("one side never waits", _pair("M101", "G04 P10"), True, line=7, machine=_MACHINE, setup=_SHEET),
        Example("both meet", _pair("M101", "M101"), False, machine=_MACHINE, setup=_SHEET),
    )
