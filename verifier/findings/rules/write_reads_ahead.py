"""The rule `write-reads-ahead`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.control import Event, Trace
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn

_COUNT = "G01 Z-30. F0.2\nG00 X100. Z50.\n{}#501=#501+1."
_READ = "G01 Z-30. F0.2\n{}#501=#5042"
_WRITES = ("variable", "offset-write", "system-read")
_WAITS = ("stop", "optional-stop", "dwell", "machine-code", "auxiliary")


class WriteReadsAhead(ChangeRule):
    """The block that made the control wait in front of a variable was taken out.

    Many controls read blocks ahead while the machine still moves. A stop, a dwell or an auxiliary code makes them wait; without it the write or
    the reading happens before the move in front of it has ended: a counter counts a part that is not cut, a position is read under way.
    """

    id = "write-reads-ahead"
    revision = 1
    weight = Weight.MAJOR
    mirror = "write-waits"
    title = "A variable is written or read without waiting for the move before it."
    watch = (
        "Look up in the control's manual which blocks stop reading ahead, and put one of them in front of the variable."
    )
    examples = (
        Example("M00 taken out", turning(_COUNT.format("")), True, old=turning(_COUNT.format("M00\n")), line=9),
        Example("dwell before a position is read", turning(_READ.format("")), True, old=turning(_READ.format("G04 P100\n")), line=8),
        Example("dwell instead of the stop", turning(_COUNT.format("G04 P100\n")), False, old=turning(_COUNT.format("M00\n"))),
        Example("stop elsewhere taken out", turning(_COUNT.format("")), False, old=turning("M00\n" + _COUNT.format(""))),
    )  # fmt: skip

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Writes and readings on both sides that a block waited for before, and none does now."""
        yield from unguarded(change, change.old.trace, change.new.trace, to_new=True)


def unguarded(change: ChangeView, guarded: Trace, bare: Trace, *, to_new: bool) -> Iterable[Drawn]:
    """The writes that have a waiting block in front of them in one trace and none in the other; `to_new`: the other is the new one."""
    alignment, edits = change.comparison.edits.alignment, change.comparison.edits
    partner = alignment.old_to_new if to_new else alignment.new_to_old
    owner = edits.of_old if to_new else edits.of_new
    without = {event.block for event, wait in _writes(bare) if wait is None}
    told: set[int] = set()
    for event, wait in _writes(guarded):
        there = int(partner[event.block])
        if wait is None or there not in without or there in told or int(owner[wait.block]) < 0:
            continue
        told.add(there)
        shown = change.new.place(there if to_new else event.block)
        name = event.value.split("=")[0].split(" ")[0] or "a variable"
        verb = "read" if event.kind == "system-read" else "written"
        is_now = "waits no more for" if to_new else "now waits for"
        yield Drawn(
            f"{name} {verb} at line {shown.line} {is_now} the move before it: the block between them is {'gone' if to_new else 'new'}",
            edits=(int(owner[wait.block]),),
            effects=(shown,),
            at=(shown,),
        )


def _writes(trace: Trace) -> Iterable[tuple[Event, Event | None]]:
    """Each write or reading behind a move, and the event between the two that makes the control wait."""
    wait: Event | None = None
    for event in trace.events:
        if wait is not None and wait.at != event.at:
            wait = None
        if event.kind in _WAITS:
            wait = event
        elif event.kind in _WRITES and event.at and event.block >= 0:
            yield event, wait
