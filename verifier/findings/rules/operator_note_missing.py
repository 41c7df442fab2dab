"""The rule `operator-note-missing`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.examples import asks_for, turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.view import Hazard, ProgramView

_CUT = "G01 Z-30. F0.2"
_ASKED = asks_for("operator-note")
_BARE = turning(_CUT).replace(" (SPACER)", "")
_NOTED = _BARE.replace("N1 ", "(FINISH TURN - T01)\nN1 ")


class OperatorNoteMissing(ProgramRule):
    """A sequence has no note that says what it does, and with which tool.

    Whoever proves it out or restarts it reads the note first: what it cuts, which tool stands there, what to watch.
    """

    id = "operator-note-missing"
    revision = 1
    weight = Weight.MINOR
    house = "operator-note"
    title = "A sequence without an operator note."
    watch = "Ask what this sequence does before it is started alone."
    examples = (
        Example("no note", _BARE, True, line=2, policy=_ASKED),
        Example("a note in front of it", _NOTED, False, policy=_ASKED),
        Example("not asked for", _BARE, False),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Every sequence with a tool and no note at its head."""
        for sequence in program.sequences:
            if sequence.tool and not sequence.note.strip():
                yield Hazard(
                    sequence.entry, f"{sequence.label} (tool {sequence.tool}) has no operator note", sequence.label
                )
