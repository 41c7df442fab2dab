"""The rule `program-number-changed`."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from verifier.control import layout
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn

_CUT = "G01 Z-30. F0.2\nX62."


class ProgramNumberChanged(ChangeRule):
    """The program carries another number, or a number is missing where one was.

    The control files a program under its number: it may lie beside the old one, or take the place of another job's program. Whoever calls the old
    number runs the old text. A file that holds another program beside writes that one, too, when it is loaded.
    """

    id = "program-number-changed"
    revision = 3
    weight = Weight.MAJOR
    mirror = "program-number-changed"
    title = "The program number is changed."
    watch = (
        "Look in the control's list which programs lie there under the old number and the new one; call the right one."
    )
    examples = (
        Example("O1000 became O1001", turning(_CUT).replace("O1000", "O1001"), True, old=turning(_CUT), line=1),
        Example("a second program", turning(_CUT) + "O1001\nG00 X50.\nM99\n", True, old=turning(_CUT)),
        Example("O01000 for O1000", turning(_CUT).replace("O1000", "O01000"), False, old=turning(_CUT)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """The numbers of both main programs, where they differ; then programs beside them that came or went and that the main one does not call."""
        yield from _beside(change)
        before, after = (layout(view.program).units[0] for view in change.views())
        if before.number == after.number:
            return
        old, new = (_named(unit.number) for unit in (before, after))
        owners = (change.comparison.edits.of_old, before.first), (change.comparison.edits.of_new, after.first)
        edits = tuple(dict.fromkeys(int(of[at]) for of, at in owners if at < len(of) and of[at] >= 0))
        yield Drawn(f"Program number changed from {old} to {new}", edits=edits, before=old, after=new)


def _beside(change: ChangeView) -> Iterator[Drawn]:
    """Programs of one file only that no run of it executes: nobody calls them, but loading the file writes them."""
    alone = [
        [
            unit
            for unit in layout(view.program).units[1:]
            if unit.number is not None
            and not any(bool(t.executed[unit.first : unit.end].any()) for _, t in view.traces)
        ]
        for view in change.views()
    ]
    numbers = [{unit.number for unit in units} for units in alone]
    for side, (view, units) in enumerate(zip(change.views(), alone, strict=True)):
        owner = (change.comparison.edits.of_old, change.comparison.edits.of_new)[side]
        for unit in units:
            if unit.number in numbers[1 - side] or owner[unit.first] < 0:
                continue
            says = "holds another program now" if side else "no longer holds a program that nothing in it calls"
            yield Drawn(
                f"The file {says}: {_named(unit.number)}" + ("; loading it writes that one, too" if side else ""),
                edits=(int(owner[unit.first]),),
                before=None if side else _named(unit.number),
                after=_named(unit.number) if side else None,
                at=(view.place(unit.first),),
                weight=Weight.MAJOR if side else Weight.MINOR,
            )


def _named(number: int | None) -> str:
    return "none" if number is None else f"O{number}"
