"""The rule `optional-stop-missing`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.examples import HEAD, TAIL, asks_for, turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.tooling import tool_calls
from verifier.findings.view import Hazard, ProgramView

_ASKED = asks_for("optional-stop")
_STOPS = ("stop", "optional-stop")
_CUT = "G01 Z-30. F0.2\n"
_NEXT = HEAD.split("\n", 1)[1].replace("N1", "N2").replace("T0101", "T0202") + _CUT + TAIL


def _two(stop: str) -> str:
    return turning(_CUT, tail=TAIL.replace("M30\n", stop) + _NEXT)


class OptionalStopMissing(ProgramRule):
    """The next tool is called without an optional stop behind the last one.

    With the switch on, the machine stands there: the operator looks at edge, size and swarf before the next tool goes in.
    """

    id = "optional-stop-missing"
    revision = 1
    weight = Weight.MINOR
    house = "optional-stop"
    title = "A sequence that does not end with an optional stop."
    watch = "Use single block where you would have stopped between these two tools."
    examples = (
        Example("straight on to tool 2", _two(""), True, line=13, policy=_ASKED),
        Example("M01 between them", _two("M01\n"), False, policy=_ASKED),
        Example("one tool", turning(_CUT), False, policy=_ASKED),
        Example("not asked for", _two(""), False),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Every call of another tool with moves, and no stop, since the call before."""
        stops = [event.at for event in program.trace.events if event.kind in _STOPS]
        begin = 0
        for call in tool_calls(program):
            if call.before is None or call.tool in (0, call.before) or call.at >= program.trace.first_pass:
                continue
            if call.at > begin and not any(begin < at <= call.at for at in stops):
                yield Hazard(
                    call.block,
                    f"Tool {call.tool} is called without an optional stop behind tool {call.before}",
                    f"T{call.tool}",
                )
            begin = call.at
