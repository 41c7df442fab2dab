"""The rule `sequence-end-unsafe`."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction

from verifier.control import Event, InForce, Sequence
from verifier.findings import shop
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.nearness import distance_to_cuts, place_before
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.spells import cutting, main_blocks, sequence_numbers
from verifier.findings.view import Hazard, ProgramView

_CUT = "G01 Z-30. F0.2\nX64."
_STOPS = ("stop", "optional-stop", "program-end")
_CLEAR_MM = 10
"""From the last cut, so that a hand and a gauge find room (common practice, no source)."""


class SequenceEndUnsafe(ProgramRule):
    """A sequence ends with spindle or coolant on, or with the tool still at the work.

    At its stop somebody opens the door, clears swarf and measures; or the turret swings on. By habit a sequence ends clear of the work, with coolant
    and spindle off and the speed mode back to fixed speed (common practice, no source).
    """

    id = "sequence-end-unsafe"
    revision = 3
    weight = Weight.MINOR
    people = True
    title = "A sequence that does not end as it should."
    watch = "At this stop, wait until the spindle stands and see where the tool is before opening."
    examples = (
        Example(
            "spindle and coolant on at a stop",
            turning(_CUT, tail="G00 X100. Z50.\nM00\nM09\nM05\nG97\nM30\n"),
            True,
            line=10,
        ),
        Example("tool at the work", turning(_CUT, tail="M09\nM05\nG97\nM00\nG00 X100. Z50.\nM30\n"), True, line=12),
        Example("all off, clear of the work", turning(_CUT), False),
        Example("stopped, surface speed left in force", turning(_CUT, tail="G00 X100. Z50.\nM09\nM05\nM30\n"), False),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Each thing that a sequence lacks at the first stop, program end or tool change behind its last cut; a habit of the whole program once."""
        for sequence, last, event in _ends(program):
            # One hazard for each: where coolant goes off in an edit, the spindle that still turns is no new one.
            for kind, words in _lacks(program, last, event):
                habit = f"{sequence.label} and {{n}} more sequences end with {words}"
                yield Hazard(event.block, f"{sequence.label} ends with {words}", kind, habit=habit)


def _lacks(program: ProgramView, last: int, event: Event) -> list[tuple[str, str]]:
    """What a sequence lacks at its end: what it is, and that in words."""
    return [*_still_on(program.trace.states[event.state]), *_too_near(program, last, event)]


def _ends(program: ProgramView) -> Iterator[tuple[Sequence, int, Event]]:
    """Each sequence that cuts, its last cut in the first pass, and the event that ends it."""
    trace = program.trace
    rows = cutting(trace)
    rows = rows[rows < trace.first_pass]
    owner = sequence_numbers(program, main_blocks(trace)[rows])
    for sequence in program.sequences:
        own = rows[owner == sequence.index]
        if not len(own):
            continue
        last = int(own[-1])
        event = next((e for e in trace.events if e.at > last and _ending(program, e)), None)
        if event is not None:
            yield sequence, last, event


def _ending(program: ProgramView, event: Event) -> bool:
    """A stop, the program's end, or another tool; a tool word that only cancels the offset ends nothing."""
    if event.kind in _STOPS:
        return True
    if event.kind != "tool" or not event.at:
        return False
    trace = program.trace
    return trace.states[event.state].tool != trace.states[int(trace.moves.state[event.at - 1])].tool


def _still_on(state: InForce) -> Iterator[tuple[str, str]]:
    if state.sense in ("forward", "reverse"):
        surface = state.speed_mode == "surface"
        yield "spindle", "the spindle turning" + (" at constant surface speed" if surface else "")
    if state.coolant not in (None, "off"):
        yield "coolant", "coolant on"


def _too_near(program: ProgramView, last: int, event: Event) -> Iterator[tuple[str, str]]:
    trace = program.trace
    place = place_before(trace, event.at)
    rows = cutting(trace)
    distance = distance_to_cuts(trace, rows[rows == last], *place) if place is not None else None
    if distance is None or distance >= _CLEAR_MM:
        return
    if event.kind == "tool" and distance < program.policy.retract_clearance_mm:
        return  # `tool-change-near-work` speaks of that
    shown = shop.millimetres(Fraction(round(distance * 1000), 1000), program.units)
    yield "near", f"the tool {shown} from its last cut"
