"""The rule `text-problem`."""

from __future__ import annotations

from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.problems import Located, ProblemRule
from verifier.findings.rule import Example

_CUT = "G01 Z-30. F0.2"
_OUTSIDE = ("text-before-start", "text-after-end")
_HEAVIER = (*_OUTSIDE, "sign-on-a-code")


class TextProblem(ProblemRule):
    """The text holds something that not every control takes in the same way.

    A note without its bracket, or a note in a note, may hide a block or run one; blocks outside the per cent signs may be left out or taken for
    another program. Characters left over from a tape or an old system stop some controls, and so does a code with a sign.
    """

    id = "text-problem"
    revision = 2
    weight = Weight.MINOR
    title = "Text that not every control takes in the same way."
    watch = "Compare these lines on the control's screen with the file after loading."
    problem_codes = (
        "unclosed-comment",
        "nested-comment",
        "control-character",
        "byte-order-mark",
        "mixed-line-ends",
        "not-utf-8",
        "tape-leader",
        "sign-on-a-code",
        "more-problems",
        *_OUTSIDE,
    )
    examples = (
        Example("note without its end", turning("G01 Z-30. F0.2 (ROUGH"), True, line=7),
        Example("block behind the end mark", "%\n" + turning(_CUT) + "%\nG01 X5. F0.1\n", True, line=15),
        Example("control character", turning(_CUT + "\x12"), True, line=7),
        Example("code with a sign", turning(_CUT.replace("G01", "G-01")), True, line=7),
        Example("plain", "%\n" + turning(_CUT + " (ROUGH)") + "%\n", False),
    )

    def weight_of(self, found: Located) -> Weight:
        """Heavier where blocks or codes may be lost or run that are not meant to; a control character in a block stops the reading of it."""
        if found.problem.code == "more-problems":
            return Weight.CRITICAL
        if found.flaw:
            return Weight.CRITICAL if found.problem.code == "control-character" else Weight.MAJOR
        return Weight.MAJOR if found.problem.code in _HEAVIER else Weight.MINOR
