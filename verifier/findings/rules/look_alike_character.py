"""The rule `look-alike-character`."""

from __future__ import annotations

from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.problems import Located, ProblemRule
from verifier.findings.rule import Example

_CUT = "G01 Z-30. F0.2"


class LookAlikeCharacter(ProblemRule):
    """A character looks like one of a program, and is another.

    What is read on the screen is not what the control reads. In a block it stops the control or changes the number; in a note it only misleads a
    search.
    """

    id = "look-alike-character"
    revision = 1
    weight = Weight.MAJOR
    title = "A character that is not what it looks like."
    watch = "Type the word again on a plain keyboard, and compare it at the control."
    problem_codes = ("look-alike-character",)
    examples = (
        Example("minus sign of a word processor", turning(_CUT.replace("-", "\u2212")), True, line=7),
        Example("in a note", turning(_CUT + " (\u0421UT)"), True, line=7),
        Example("plain", turning(_CUT + " (CUT)"), False),
    )

    def weight_of(self, found: Located) -> Weight:
        """Major in a block, minor in a note."""
        return Weight.MAJOR if found.flaw else Weight.MINOR
