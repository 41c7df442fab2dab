"""The rule `tool-and-offset-disagree`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.examples import sheet, turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.tooling import ToolCall, offset_is_of, tool_calls
from verifier.findings.view import Hazard, ProgramView
from verifier.machines import Tool

_CUT = "G01 Z-30. F0.2\nX64."
_BOTH_CORNERS = sheet(Tool(1, "grooving", offsets=(13,)), Tool(2, "turning"))
_SECOND = "G00 X100. Z50.\nT{}\nG00 X62. Z2.\nG01 Z-30."


class ToolAndOffsetDisagree(ProgramRule):
    """A tool is called with the offset of another number.

    By habit tool and offset have the same number (common practice, no source). With the offset of another tool every cut is off by the difference
    in length of the two. A second offset of its own, on a blade that is measured at both corners, is meant; where the setup sheet says which
    offsets a tool has, that counts.
    """

    id = "tool-and-offset-disagree"
    revision = 2
    weight = Weight.MINOR
    title = "Tool and offset have different numbers."
    watch = "Check on the offset page which tool this offset was measured with."
    examples = (
        Example("T0102", turning(_CUT).replace("T0101", "T0102"), True, line=3),
        Example("the offset of another tool of the job", turning(_CUT + "\n" + _SECOND.format("0301")), True, line=10),
        Example("agree", turning(_CUT), False),
        Example("second offset of the same blade", turning(_CUT + "\nT0111\n" + _CUT), False),
        Example(
            "the blade's second offset by the sheet",
            turning(_CUT).replace("T0101", "T0113"),
            False,
            setup=_BOTH_CORNERS,
        ),
        Example("not one of its offsets", turning(_CUT).replace("T0101", "T0112"), True, line=3, setup=_BOTH_CORNERS),
        Example(
            "an offset that the sheet gives another",
            turning(_CUT + "\nT0213\n" + _CUT),
            True,
            line=9,
            setup=_BOTH_CORNERS,
        ),
        Example("cancelled", turning(_CUT, tail="G00 X100. Z50.\nT0100\nM09\nM05\nG97\nM30\n"), False),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Each pair of unequal numbers once, except a further offset of a tool that is also called with its own."""
        calls = list(tool_calls(program))
        tools = {call.tool for call in calls}
        by_habit = {call.tool for call in calls if call.offset == call.tool}
        told: set[tuple[int, int]] = set()
        for call in calls:
            if not call.offset or call.offset == call.tool or (call.tool, call.offset) in told:
                continue
            owners = offset_is_of(program.side.setup, call.offset)
            if call.tool in owners or (not owners and call.tool in by_habit and call.offset not in tools):
                continue
            told.add((call.tool, call.offset))
            yield _hazard(call, owners)


def _hazard(call: ToolCall, owners: tuple[int, ...]) -> Hazard:
    """Told heavier where the setup sheet gives the offset to another tool."""
    same_as = f"{call.tool}/{call.offset}"
    title = f"Tool {call.tool} is called with offset {call.offset}"
    if not owners:
        return Hazard(call.block, title, same_as)
    named = " and ".join(map(str, owners))
    return Hazard(call.block, f"{title}, which the setup sheet has for tool {named}", same_as, Weight.MAJOR)
