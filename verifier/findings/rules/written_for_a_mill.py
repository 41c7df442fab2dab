"""The rule `written-for-a-mill`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.examples import turning
from verifier.findings.mill_words import mill_words
from verifier.findings.model import Weight
from verifier.findings.phrases import joined
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.view import Hazard, ProgramView

_MILL = "O1000\nG00 G17 G21 G40 G49 G80 G90\nT1 M06\nS2000 M03\nG00 X0 Y0\nG43 Z5. H01\nG01 Z-2. F100\nX40. Y20.\nM30\n"


class WrittenForAMill(ProgramRule):
    """The program is written for a mill or another machine with a Y axis, and the machine profile is that of a lathe without one.

    X is read as a diameter, Y is not executed, and no tool has its length: nothing that is said of such a program can be relied on. On the
    lathe the first of its moves may run the turret into the chuck.
    """

    id = "written-for-a-mill"
    revision = 1
    weight = Weight.CRITICAL
    people = True
    settled = False
    title = "The program is written for a machine with a Y axis, and this profile is that of a lathe without one."
    watch = "Do not load it on this lathe. Ask for which machine it was written; nothing else that is told of it here can be relied on."
    examples = (
        Example("a mill's program", _MILL, True, line=2),
        Example("a Y that slipped in", turning("G01 X50. F0.2\nY-3.\nX62."), False),
        Example("Y again and again", turning("G01 X50. F0.2\nY-3.\nY-4.\nY-5."), True, line=8),
        Example("turning", turning("G01 X50. F0.2\nX62."), False),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """One hazard for the program, with what speaks for a mill."""
        found = mill_words(program)
        if found:
            first, *others = sorted(found.values())
            words = joined(list(found))
            title = (
                f"The program is written for a mill, or a machine with a Y axis ({words}); this profile is a lathe's without one: "
                "nothing else told of it can be relied on"
            )
            yield Hazard(first, title, "", effects=tuple(others))
