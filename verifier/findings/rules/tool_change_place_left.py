"""The rule `tool-change-place-left`."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from verifier.findings.examples import HEAD, TAIL, asks_for, turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.tooling import ToolCall, tool_calls
from verifier.findings.view import Hazard, ProgramView

_ASKED = asks_for("retract")
_CUT = "G01 Z-30. F0.2\n"


def _sequence(number: int) -> str:
    head = HEAD.split("\n", 1)[1].replace("N1", f"N{number}").replace("T0101", f"T0{number}0{number}")
    return head + _CUT + TAIL.replace("M30\n", "M01\n" if number < 4 else "M30\n")


def _job(second: str) -> str:
    parts = [_sequence(n) for n in range(1, 5)]
    return "O1000\n" + parts[0] + parts[1].replace("X100. Z50.", second) + parts[2] + parts[3]


class ToolChangePlaceLeft(ProgramRule):
    """A tool is called away from the place where the program calls its others.

    The turret is known to swing clear at the one place. Anywhere else nobody has looked what the longest tool meets.
    """

    id = "tool-change-place-left"
    revision = 1
    weight = Weight.MINOR
    people = True
    house = "retract"
    title = "A tool is called away from the tool change position."
    watch = "Stop in single block before this tool word, and see that every tool can swing there."
    examples = (
        Example("one sequence ends elsewhere", _job("X90. Z20."), True, line=25, policy=_ASKED),
        Example("all at one place", _job("X100. Z50."), False, policy=_ASKED),
        Example("one tool", turning(_CUT), False, policy=_ASKED),
        Example("not asked for", _job("X90. Z20."), False),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Calls of another tool from elsewhere than most are made from, where most are made from one place."""
        called = [c for c in tool_calls(program) if c.before is not None and c.tool not in (0, c.before) and c.at]
        called = [c for c in called if c.at <= program.trace.first_pass]
        places = Counter(_place(program, call) for call in called)
        if not places:
            return
        usual, times = places.most_common(1)[0]
        if times * 2 <= len(called) or times < 2:
            return
        for call in called:
            if _place(program, call) != usual:
                row = call.at - 1
                title = f"Tool {call.tool} is called from another place than the program's other tools"
                yield Hazard(call.block, title, f"T{call.tool}", effects=(int(program.trace.moves.block[row]),))


def _place(program: ProgramView, call: ToolCall) -> tuple[str, int, str, int]:
    """Where the tool stands when it is called, in the machine's own place where that is known by name (the reference point)."""
    trace, row = program.trace, call.at - 1
    moves = trace.moves
    return (
        trace.bases[int(moves.bx1[row])], int(moves.x1[row]), trace.bases[int(moves.bz1[row])], int(moves.z1[row]),
    )  # fmt: skip
