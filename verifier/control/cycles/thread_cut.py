"""What the threading cycles share: the synchronised cut with its pull-out, and what makes a thread impossible."""

from __future__ import annotations

from fractions import Fraction

from verifier.control.cycles.path import Path
from verifier.control.strokes import CycleFault, Kind, Point


def thread_fault(start: Point, end: Point, lead: int, pull_out: int) -> CycleFault | None:
    """Why no thread can be cut from `start` to `end`, or None."""
    length = abs(end.z - start.z)
    if length == 0:
        return CycleFault("thread-without-length", "the thread ends at the Z where it starts")
    if lead <= 0:
        return CycleFault("lead-not-positive", "the lead of the thread is not above zero")
    if pull_out < 0:
        return CycleFault("pull-out-negative", "the pull-out distance is below zero")
    if pull_out > length:
        return CycleFault("pull-out-longer-than-thread", "the pull-out would begin before the thread does")
    return None


def cut_thread(path: Path, foot: Point, clear_x: int, pull_out: int, step: str) -> None:
    """Cut from where the tool stands to `foot` (external, toward -Z), leaving at 45 degrees `pull_out` before it.

    The pull-out ends at the foot's Z, or earlier where it reaches the X that is clear: no further out than the start.
    """
    begin = path.at
    turn = Point(foot.x, foot.z + pull_out)
    if pull_out and begin.x != foot.x:
        share = Fraction(pull_out, begin.z - foot.z)
        turn = Point(foot.x + round(share * (begin.x - foot.x)), turn.z)
    path.move(Kind.THREAD, turn, f"{step}: cut")
    out = min(pull_out, clear_x - turn.x)
    if out > 0:
        path.move(Kind.THREAD, Point(turn.x + out, turn.z - out), f"{step}: pull-out")
    elif pull_out:
        path.move(Kind.THREAD, foot, f"{step}: cut")
