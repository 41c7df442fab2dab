"""The rule `program-number-changed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.control import layout
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn

_CUT = "G01 Z-30. F0.2\nX62."


class ProgramNumberChanged(ChangeRule):
    """The program carries another number, or a number is missing where one was.

    The control files a program under its number: it may lie beside the old one, or take the place of another job's program. Whoever calls the old
    number runs the old text.
    """

    id = "program-number-changed"
    revision = 2
    weight = Weight.MAJOR
    mirror = "program-number-changed"
    title = "The program number is changed."
    watch = (
        "Look in the control's list which programs lie there under the old number and the new one; call the right one."
    )
    examples = (
        Example("O1000 became O1001", turning(_CUT).replace("O1000", "O1001"), True, old=turning(_CUT), line=1),
        Example("O01000 for O1000", turning(_CUT).replace("O1000", "O01000"), False, old=turning(_CUT)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """The numbers of both main programs, where they differ."""
        before, after = (layout(view.program).units[0] for view in change.views())
        if before.number == after.number:
            return
        old, new = (_named(unit.number) for unit in (before, after))
        owners = (change.comparison.edits.of_old, before.first), (change.comparison.edits.of_new, after.first)
        edits = tuple(dict.fromkeys(int(of[at]) for of, at in owners if at < len(of) and of[at] >= 0))
        yield Drawn(f"Program number changed from {old} to {new}", edits=edits, before=old, after=new)


def _named(number: int | None) -> str:
    return "none" if number is None else f"O{number}"
