"""Choices of the profile that nobody verified and that geometry rests on: where a rapid goes, and whether a cut waits for the spindle.

Those that the control makes while it executes are told by the trace itself.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from verifier.control import Kind
from verifier.findings import ProgramView
from verifier.machines import CHOICES
from verifier.report.change_report import NotChecked


def choice_gaps(views: Sequence[ProgramView]) -> tuple[NotChecked, ...]:
    """Each such choice once, at the first block where it matters, the new side's where it has one."""
    found: dict[str, NotChecked] = {}
    for view in views:
        for choice, block in _matters(view):
            if not view.machine.is_verified(choice):
                what = f"choice {choice} = {view.machine.choice(choice)}"
                reason = f"nobody verified it at the machine: {CHOICES[choice].question}"
                found[what] = NotChecked(what, reason, view.place(block))
    return tuple(found.values())


def _matters(view: ProgramView) -> Iterator[tuple[str, int]]:
    """Choices that play a part in a program, each with the first block."""
    trace = view.trace
    moves, last = trace.moves, trace.first_pass
    slanted = (moves.kind == Kind.RAPID) & (moves.x0 != moves.x1) & (moves.z0 != moves.z1)
    rows = np.flatnonzero(slanted[:last])
    if len(rows):
        yield "rapid-path", int(moves.block[rows[0]])
    turning = np.array([state.sense in ("forward", "reverse") for state in trace.states], np.bool_)
    cuts = np.flatnonzero((moves.kind != Kind.RAPID)[:last] & turning[moves.state[:last]])
    if len(cuts) and view.machine.spindle.start_seconds:
        yield "cut-waits-for-speed", int(moves.block[cuts[0]])
