"""The rule `program-end-became-repeat`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.examples import TAIL, turning
from verifier.findings.model import Weight
from verifier.findings.program_ends import changed_ends, shown
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn

_CUT = "G01 X58. F0.2\nX62."


class ProgramEndBecameRepeat(ChangeRule):
    """A program that ended now starts again by itself (M99 where M30 or M02 was).

    Nobody presses the start button between two parts: the spindle turns up and the tool comes while somebody opens the door, or with no
    material in the chuck.
    """

    id = "program-end-became-repeat"
    revision = 2
    weight = Weight.CRITICAL
    people = True
    mirror = "repeat-became-program-end"
    title = "The end of the program became a repeat."
    watch = "Hands off the door: expect a start without a button. Run it only where bar feed, catcher and part count are set up for it."
    examples = (
        Example("M30 became M99", turning(_CUT, tail=TAIL.replace("M30", "M99")), True, old=turning(_CUT), line=13),
        Example("M30 became M02", turning(_CUT, tail=TAIL.replace("M30", "M02")), False, old=turning(_CUT)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Ends of which the one before ended the program and the one now repeats it; major where a stop waits in each pass."""
        for found in changed_ends(change):
            if found.repeats != (False, True) or found.moved:
                continue
            waits = any(event.kind == "stop" for event in change.new.trace.events)
            words = "; only its stop M00 waits for the operator" if waits else ", without a start button"
            yield Drawn(
                f"The program now starts again by itself with M99{words}; it ended with {shown(found.before)} before",
                found.covers,
                found.edits,
                before=found.before,
                after=found.after,
                weight=Weight.MAJOR if waits else None,
            )
