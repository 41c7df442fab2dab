"""The rule `program-end-changed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.examples import TAIL, turning
from verifier.findings.model import Weight
from verifier.findings.program_ends import changed_ends, shown
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn

_CUT = "G01 X58. F0.2\nX62."


class ProgramEndChanged(ChangeRule):
    """The program ends in another way.

    M30 stops and rewinds, M02 only stops, M99 starts again at once: with no bar behind the part, or with the door about to be opened.
    """

    id = "program-end-changed"
    revision = 3
    weight = Weight.MAJOR
    people = True
    mirror = "program-end-changed"
    title = "The end of the program is changed."
    watch = "Stay at the stop button at the end of the first part."
    examples = (
        Example("M30 became M02", turning(_CUT, tail=TAIL.replace("M30", "M02")), True, old=turning(_CUT), line=13),
        Example("M30 taken out", turning(_CUT, tail=TAIL.replace("M30\n", "")), True, old=turning(_CUT), line=13),
        Example("M30 became M99", turning(_CUT, tail=TAIL.replace("M30", "M99")), False, old=turning(_CUT)),
        Example("M30 kept", turning(_CUT), False, old=turning(_CUT.replace("0.2", "0.25"))),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """The end before and after, where neither of them alone repeats the program (rules of their own speak of that)."""
        for found in changed_ends(change):
            before, after = found.before, found.after
            if found.repeats[0] != found.repeats[1] and not found.moved:
                continue
            title = f"The program ends with {shown(after)}, with {shown(before)} before"
            if found.moved:
                title = "The program ends at another point of the work"
            yield Drawn(
                title,
                found.covers,
                found.edits,
                before=None if before is None else shown(before),
                after=None if after is None else shown(after),
            )
