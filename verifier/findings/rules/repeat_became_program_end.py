"""The rule `repeat-became-program-end`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.examples import TAIL, turning
from verifier.findings.model import Weight
from verifier.findings.program_ends import changed_ends, shown
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn

_CUT = "G01 X58. F0.2\nX62."
_AGAIN = turning(_CUT, tail=TAIL.replace("M30", "M99"))


class RepeatBecameProgramEnd(ChangeRule):
    """A program that started again by itself now ends after one part.

    The bar stays where it is and the next part waits for a hand. What the end resets (offsets, modes, coolant) is no longer in force when it
    is started again.
    """

    id = "repeat-became-program-end"
    revision = 2
    weight = Weight.MAJOR
    people = True
    mirror = "program-end-became-repeat"
    title = "A repeat became the end of the program."
    watch = "Be there at the end of the first part; check what the start of the program sets for itself."
    examples = (
        Example("M99 became M30", turning(_CUT), True, old=_AGAIN, line=13),
        Example("repeats as before", _AGAIN, False, old=_AGAIN.replace("F0.2", "F0.25")),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Ends of which the one before repeated the program and the one now does not."""
        for found in changed_ends(change):
            if found.repeats == (True, False) and not found.moved:
                title = f"The program now ends with {shown(found.after)}; it started again by itself with M99 before"
                yield Drawn(title, found.covers, found.edits, before=found.before, after=found.after)
