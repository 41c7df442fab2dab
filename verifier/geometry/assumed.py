"""What a time estimate rests on, in words, as far as it plays a part."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from verifier.control import Event, Kind, Trace
from verifier.geometry.cutting import MoveClock
from verifier.geometry.pacing import CORNER
from verifier.geometry.run_up import CHOICE, Waits
from verifier.machines import Machine

_WAITS_FOR_SOMEBODY = ("stop", "optional-stop")
_QUANTITIES = ("rapids", "accelerations", "spindle", "rapid-path")


def assumptions(
    trace: Trace, machine: Machine, clock: MoveClock, waiting: Waits, *, stopped: bool, last: int
) -> tuple[str, ...]:
    """The sentences; `stopped`: whether something waits for the spindle to stand; `last` is how many events the first pass has."""
    return (
        *_of_moves(trace, machine, clock),
        *_of_spindle(trace, machine, waiting, stopped=stopped),
        *_of_events(trace, machine, trace.events[:last]),
        *_unverified(machine, waiting),
    )


def _of_moves(trace: Trace, machine: Machine, clock: MoveClock) -> Iterator[str]:
    path = "on the straight line" if machine.choice("rapid-path") == "straight" else "each axis at its own rate"
    yield f"a rapid goes {path}, from rest to rest"
    if bool((trace.moves.kind != Kind.RAPID).any()):
        yield (
            "cuts speed up and slow down at the acceleration of the slides: from rest behind a rapid, a dwell, an M code or a wait, to rest in "
            f"front of one, and at every corner in exact stop; else a corner is taken as fast as leaves it by no more than {CORNER:g} mm"
        )
    if bool((trace.moves.kind == Kind.THREAD).any()):
        yield (
            "a thread pass follows the spindle, and waits for its marker: half a turn is counted before each, the mean of none and one (common "
            "practice, no source)"
        )
    if clock.without_clamp:
        yield (
            f"constant surface speed without a known clamp: up to the machine's {plain(machine.spindle.max_rpm)} rev/min"
        )
    if clock.beyond_rapid:
        yield "a feed faster than a slide's rapid is taken at that rapid, one too fast for its arc at what the slides can draw"


def _of_spindle(trace: Trace, machine: Machine, waiting: Waits, *, stopped: bool) -> Iterator[str]:
    spindle = machine.spindle
    if machine.choice(CHOICE) != "yes":
        yield "a cut does not wait for the spindle: no run-up is counted"
    elif waiting.waits or waiting.covered:
        yield (
            f"the spindle takes {plain(spindle.start_seconds)} s from rest to {plain(spindle.max_rpm)} rev/min, other changes in proportion, and a "
            "cut waits for its speed"
        )
    if waiting.waits or waiting.covered or stopped:
        yield (
            "the spindle slows down as fast as it speeds up: the machine profile says no more"
            if spindle.stop_seconds is None
            else f"the spindle takes {plain(spindle.stop_seconds)} s from {plain(spindle.max_rpm)} rev/min to rest"
        )
    if stopped:
        yield (
            "a tool change behind a spindle stop, the opening of a chuck and the end of the program wait until the spindle stands (common practice, "
            "no source), less what the slides do meanwhile"
        )
    if waiting.covered:
        yield "under constant surface speed the rapids to a cut cover the run-up to its diameter; only what they leave is counted"


def _of_events(trace: Trace, machine: Machine, events: tuple[Event, ...]) -> Iterator[str]:
    if any(event.kind == "tool" for event in events):
        yield f"a tool change takes {plain(machine.tool_change_seconds)} s"
    if any(event.kind in _WAITS_FOR_SOMEBODY for event in events):
        yield "standing at a program stop is not counted"
    if len(events) < len(trace.events):
        yield "the program repeats: its first pass is counted"
    if trace.flow_unknown:
        yield "the order of execution rests on statements that are not executed"


def _unverified(machine: Machine, waiting: Waits) -> Iterator[str]:
    waits = waiting.waits or waiting.covered or machine.choice(CHOICE) != "yes"
    names = [name for name in (*_QUANTITIES, *((CHOICE,) if waits else ())) if not machine.is_verified(name)]
    if names:
        yield f"nobody verified at the machine: {', '.join(names)}"


def plain(value: Fraction) -> str:
    """A number in its shortest form."""
    return str(value.numerator) if value.denominator == 1 else f"{float(value):g}"
