"""The rule `tool-not-in-setup`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.examples import sheet, turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.tooling import tool_calls
from verifier.findings.view import Hazard, ProgramView
from verifier.machines import Tool

_CUT = "G01 Z-30. F0.2"


class ToolNotInSetup(ProgramRule):
    """The program calls a station that the setup sheet does not list.

    The setter does not load it, or loads what was there last; what it cuts was not checked against a tool.
    """

    id = "tool-not-in-setup"
    revision = 1
    weight = Weight.MINOR
    title = "A tool that is not on the setup sheet."
    watch = "Look what stands at this station before the first start."
    examples = (
        Example("only tool 3 on the sheet", turning(_CUT), True, line=3, setup=sheet(Tool(3, "grooving"))),
        Example("on the sheet", turning(_CUT), False, setup=sheet(Tool(1, "turning"))),
        Example("no sheet", turning(_CUT), False),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Each station that is called and not listed, once."""
        setup = program.side.setup
        if setup is None or not setup.tools:
            return
        told: set[int] = set()
        for call in tool_calls(program):
            if call.tool and call.tool not in setup.tools and call.tool not in told:
                told.add(call.tool)
                yield Hazard(call.block, f"Tool {call.tool} is not on the setup sheet {setup.name}", str(call.tool))
