"""The rule `program-identity-changed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.examples import turning
from verifier.findings.identity import identity_changed, identity_notes
from verifier.findings.model import Weight
from verifier.findings.notes import shown
from verifier.findings.phrases import counted
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn

_CUT = "G01 Z-30. F0.2\nX62."
_HEAD = turning(_CUT).replace("(SPACER)", "(SPACER)\n(DRG 4711-A SETUP 1)")
_SHOWN = 3


class ProgramIdentityChanged(ChangeRule):
    """The program says that it is for another part: its name, or the part, drawing, revision or setup in the notes at its head, is changed.

    People choose the program, the blank and the jaws by these words. Under the old name on the setup sheet they find nothing; under the new
    one they may find the program of another part.
    """

    id = "program-identity-changed"
    revision = 1
    weight = Weight.MAJOR
    people = True
    mirror = "program-identity-changed"
    title = "The name of the program, or the part it is for, is changed."
    watch = "Hold name, drawing and revision against the job card before the first blank is clamped."
    examples = (
        Example("another drawing revision", _HEAD.replace("4711-A", "4711-B"), True, old=_HEAD, line=2),
        Example("another setup", _HEAD.replace("SETUP 1", "SETUP 2"), True, old=_HEAD, line=2),
        Example("another name", _HEAD.replace("SPACER", "BUSHING"), True, old=_HEAD, line=1),
        Example("other blanks between the words", _HEAD.replace("DRG 4711", "DRG  4711"), False, old=_HEAD),
        Example("a note inside the program", turning("(PART OFF)\n" + _CUT), False, old=turning(_CUT)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """One finding for all notes at the head that say what the program is for; a name in other words only is minor."""
        pairs = list(identity_notes(change.old.program, change.new.program))
        if not pairs:
            return
        words = []
        for old, new in pairs[:_SHOWN]:
            before, after = (shown(note) if note is not None else None for note in (old, new))
            words.append(
                f"{before} is now {after}" if before and after else f"{before} removed" if before else f"{after} added"
            )
        more = [f"and {counted(len(pairs) - _SHOWN, 'more note')}"] if len(pairs) > _SHOWN else []
        first = pairs[0]
        sides = [(change.new, new) if new is not None else (change.old, old) for old, new in pairs]
        places = tuple(view.note_place(note) for view, note in sides if note is not None)
        yield Drawn(
            f"The program says otherwise what it is for: {'; '.join([*words, *more])}",
            before=shown(first[0]) if first[0] is not None else None,
            after=shown(first[1]) if first[1] is not None else None,
            weight=None if any(identity_changed(pair) for pair in pairs) else Weight.MINOR,
            at=places,
        )
