"""The rule `search-number-and-tool-disagree`."""

from __future__ import annotations

import re
from collections.abc import Iterable

from verifier.control import Sequence
from verifier.findings.examples import asks_for, turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.view import Hazard, ProgramView

_CUT = "G01 Z-30. F0.2"
_NUMBER = re.compile(r"N0*([0-9]+)")
_ASKED = asks_for("search-number")
_TIMES = (1, 10, 100, 1000)


def _three(last: str) -> str:
    parts = ["O1000"]
    for label, tool in (("N1", "T0101"), ("N2", "T0202"), (last, "T0303")):
        parts.append(
            f"{label} G00 G40 G97 G99\n{tool}\nG97 S900 M03\nG00 X62. Z2. M08\n{_CUT}\nG00 X100. Z50.\nM09\nM05\nM01"
        )
    return "\n".join([*parts[:-1], parts[-1].replace("M01", "M30")]) + "\n"


class SearchNumberAndToolDisagree(ProgramRule):
    """A sequence has another search number than its tool, where the others have the same.

    Whoever restarts "the tool that was in" looks for its number, and starts another sequence.
    """

    id = "search-number-and-tool-disagree"
    revision = 2
    weight = Weight.MINOR
    house = "search-number"
    title = "A search number that is not its tool's."
    watch = "Search this sequence at the control, and see that the tool that comes is the one expected."
    examples = (
        Example("N4 for the third tool", _three("N4"), True, line=20, policy=_ASKED),
        Example("all agree", _three("N3"), False, policy=_ASKED),
        Example("no such habit", turning(_CUT).replace("N1", "N5"), False, policy=_ASKED),
        Example("not asked for", _three("N4"), False),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Sequences that leave the habit of the program: search number = tool, ten times the tool, or so on."""
        numbered = [
            (s, int(found[1]), s.tool) for s in program.sequences if (found := _NUMBER.fullmatch(s.label)) and s.tool
        ]
        times = max(_TIMES, key=lambda k: (sum(number == tool * k for _, number, tool in numbered), -k))
        agree = {tool for _, number, tool in numbered if number == tool * times}
        if len(agree) < 2 or len(agree) * 2 < len(numbered):
            return
        for sequence, number, tool in numbered:
            if number != tool * times and tool not in agree:
                yield self._hazard(sequence, tool, times)

    def _hazard(self, sequence: Sequence, tool: int, times: int) -> Hazard:
        title = f"{sequence.label} runs tool {tool}, where the search number of the others follows their tool (N{tool * times})"
        return Hazard(sequence.entry, title, f"{sequence.label} T{tool}")
