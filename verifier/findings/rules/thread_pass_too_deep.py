"""The rule `thread-pass-too-deep`."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from verifier.findings import shop
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.threads import threads
from verifier.findings.view import Hazard, ProgramView

_THREAD = "G97 S700\nG00 X36. Z6.\nG76 P020060 Q60 R0.04\nG76 X27.496 Z-23.5 P1227 Q{} F2."
_MOST_MM = Fraction(6, 10)
_MOST_SHARE = Fraction(1, 2)
"""The first pass of published tables is 0.15 to 0.45 mm, a quarter to two fifths of the height; these limits are common practice, no source."""


class ThreadPassTooDeep(ProgramRule):
    """The first pass of a thread is too deep.

    A threading insert cuts on both flanks and its point at once; taken too deep it breaks in the first pass.
    """

    id = "thread-pass-too-deep"
    revision = 1
    weight = Weight.MINOR
    title = "The first pass of a thread is too deep."
    watch = "Run the first pass in single block, and look at the insert after it."
    examples = (
        Example("0.9 mm", turning(_THREAD.format(900)), True, line=10),
        Example("more than half the height", turning(_THREAD.format(620)), True, line=10),
        Example("0.3 mm", turning(_THREAD.format(300)), False),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Every thread cycle whose first pass is above 0.6 mm or half its height."""
        for thread in threads(program.trace):
            if thread.first is None or thread.height is None:
                continue
            if thread.first > _MOST_MM or thread.first > thread.height * _MOST_SHARE:
                first, height = (shop.millimetres(amount, program.units) for amount in (thread.first, thread.height))
                title = f"First thread pass is {first} deep, of a height of {height}"
                yield Hazard(thread.blocks[0], title, f"{thread.first} {thread.height}", effects=thread.blocks[1:])
