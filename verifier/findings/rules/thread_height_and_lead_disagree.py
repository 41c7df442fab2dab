"""The rule `thread-height-and-lead-disagree`."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from verifier.findings import shop
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.threads import Thread, threads, turned_radii
from verifier.findings.view import Hazard, ProgramView

_THREAD = "G97 S700\nG00 X36. Z6.\nG76 P020060 Q60 R0.04\nG76 X27.496 Z-23.5 P{} Q300 F2."
_PASSES = "G00 X30.\nG01 Z-26. F0.2\nX62.\nG00 Z6.\nG97 S700\nX36.\nG92 X29.4 Z-23.5 F2.\nX28.9\nX28.4\nX{}"

_SHARES = (Fraction(6134, 10000), Fraction(5954, 10000))
"""Height of an outside 60 degree thread as a share of its lead: 17/24 H (ISO 68-1) and 11/16 H, with H = 0.8660 lead."""
_OFF = Fraction(15, 100)
_STARTS = (1, 2, 3, 4)
_ANGLES = (Fraction(55), Fraction(60))


class ThreadHeightAndLeadDisagree(ProgramRule):
    """The height of a thread is far from what its lead asks for.

    One of the two is another thread's. Trapezoidal and pipe threads have heights of their own and are not judged; an inside thread is a little lower.
    """

    id = "thread-height-and-lead-disagree"
    revision = 1
    weight = Weight.MINOR
    title = "Thread height and lead do not fit together."
    watch = "Compare lead and height with the drawing; try the gauge before the last passes."
    examples = (
        Example("height of a lead of 1.5", turning(_THREAD.format(920)), True, line=10),
        Example("17/24 H", turning(_THREAD.format(1227)), False),
        Example("two starts", turning(_THREAD.format(613)), False),
        Example("single passes, last one lost", turning(_PASSES.format("28.2")), True),
        Example("single passes", turning(_PASSES.format("27.55")), False),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Every thread of 60 or 55 degrees whose height is more than 15 % off for its lead, and for 2 to 4 starts too."""
        for thread in threads(program.trace):
            height = _height(program, thread)
            if height is None or not thread.lead or (thread.angle is not None and thread.angle not in _ANGLES):
                continue
            if any(abs(height / (thread.lead / starts) / share - 1) <= _OFF for starts in _STARTS for share in _SHARES):
                continue
            shown, lead, usual = (
                shop.millimetres(amount, program.units) for amount in (height, thread.lead, thread.lead * _SHARES[0])
            )
            title = f"Thread height {shown} does not fit its lead of {lead}: usual is {usual}"
            yield Hazard(thread.blocks[0], title, f"{height} {thread.lead}", effects=thread.blocks[1:])


def _height(program: ProgramView, thread: Thread) -> Fraction | None:
    """The height by its word, or by what was turned before single passes."""
    if thread.height is not None:
        return thread.height
    turned = turned_radii(program.trace, thread)
    if not turned:
        return None
    share, radius = turned[-1]
    return abs(radius - thread.root_at(share))
