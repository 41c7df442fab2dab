"""The rule `compensation-left-on`."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from verifier.control import FIELDS, Event
from verifier.findings.examples import turning
from verifier.findings.faults import FaultRule
from verifier.findings.model import Weight
from verifier.findings.rule import Example
from verifier.findings.view import Hazard, ProgramView

_CUT = "G42 G01 X50. F0.2\nZ-20.\nX64."
_AWAY = "G00 X100. Z50."
_NEXT = "T0202\nG00 G40 X62. Z2.\nG01 Z-30. F0.1"
_ON = ("G41", "G42")
_ENDS = {
    "stop": "the program stops", "optional-stop": "the program stops", "program-end": "the program ends", "text-end": "the text ends",
    "repeat": "the program begins again",
}  # fmt: skip


class CompensationLeftOn(FaultRule):
    """Nose compensation is still on at a tool change, at a stop, at a reference return, or at the program's end.

    The next move is then made off its place by the nose radius, or with the data of another nose; who starts again at the next search number, or
    at the top, does not know the side. By habit each sequence ends with G40 in a move clear of the part (common practice, no source).
    """

    id = "compensation-left-on"
    revision = 1
    weight = Weight.MAJOR
    settled = True
    title = "Nose compensation is left on."
    watch = "See that G40 stands in a move clear of the part before this block."
    codes = ("reference-under-compensation",)
    examples = (
        Example("at a tool change", turning(f"{_CUT}\n{_AWAY}\n{_NEXT}"), True, line=11),
        Example("at the program's end", turning(_CUT), True, line=14),
        Example("at a reference return", turning(f"{_CUT}\nG28 U0. W0.\nG40"), True, line=10),
        Example("G40 alone before it", turning(f"{_CUT}\nG40\n{_AWAY}\n{_NEXT}"), False),
        Example("G40 in the move away", turning(f"{_CUT.replace('X64', 'G40 X64')}\n{_AWAY}\n{_NEXT}"), False),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Returns to a reference point, then tool calls, stops and ends of the first pass at which compensation is on."""
        yield from super().check(program)
        for event, side in _met(program):
            at = _ENDS.get(event.kind) or f"{event.value.split()[0]} is called"
            weight = Weight.MAJOR if event.kind == "tool" else Weight.MINOR
            yield Hazard(event.block, f"{side} is still on when {at}", f"{event.kind} {side}", weight)


def _met(program: ProgramView) -> Iterator[tuple[Event, str]]:
    trace, field = program.trace, FIELDS.index("compensation")
    for event in trace.events:
        if event.at > trace.first_pass or event.kind not in (*_ENDS, "tool") or not event.at:
            continue
        side = trace.states[event.state].compensation
        origin = trace.set_by[event.set_by][field]
        if side not in _ON and origin >= 0 and int(trace.origins.block[origin]) == event.block:
            # The end itself puts compensation off: what counts is what stood before it.
            side = trace.states[int(trace.moves.state[event.at - 1])].compensation
        if side in _ON:
            yield event, str(side)
