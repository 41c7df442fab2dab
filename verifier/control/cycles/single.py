"""Single cycles: one pass of turning, facing or threading, out and back to the start (G90, G94 and G92 of code set A).

Steps: rapid to the start of the cut, cut to the end, move off to the start's depth, rapid back. The taper is signed,
cut start minus cut end: a radius value for turning and threading, along Z for facing. Common practice, no source; the
rule for tapers that point the other way is read in public sources for facing, and its mirror is used for turning.
"""

from __future__ import annotations

from verifier.control.cycles.frame import EXCHANGED, Frame, sign
from verifier.control.cycles.path import Path
from verifier.control.cycles.thread_cut import cut_thread, thread_fault
from verifier.control.strokes import CycleFault, Expansion, Point


def turning_pass(start: Point, end: Point, taper: int) -> Expansion:
    """One turning pass: rapid in X, cut to `end`, feed off in X, rapid back in Z. Ticks; `taper` signed radius."""
    depth = end.x - start.x
    if taper * depth < 0 and abs(taper) > abs(depth):
        return CycleFault(
            "taper-longer-than-travel",
            "the taper is longer than the infeed and points the other way: the cut would begin behind the start",
        )
    path = Path(start)
    path.rapid(Point(end.x + taper, start.z), "infeed")
    path.feed(end, "cut")
    path.feed(Point(start.x, end.z), "feed off")
    path.rapid(start, "return to start")
    return path.strokes


def facing_pass(start: Point, end: Point, taper: int) -> Expansion:
    """One facing pass: the turning pass with X and Z exchanged; `taper` signed along Z."""
    expansion = turning_pass(EXCHANGED.seen(start), EXCHANGED.seen(end), taper)
    return expansion if isinstance(expansion, CycleFault) else EXCHANGED.real_strokes(expansion)


def thread_pass(start: Point, end: Point, taper: int, lead: int, pull_out: int) -> Expansion:
    """One threading pass; `pull_out` ticks before the end the tool leaves at 45 degrees (0 = it does not).

    The tool pulls out toward the start's X. The lead is the caller's to put in force; it must only be positive.
    """
    fault = thread_fault(start, end, lead, pull_out)
    if fault is not None:
        return fault
    frame = Frame(False, sign(start.x - end.x), sign(start.z - end.z))
    path = Path(frame.seen(start))
    foot = frame.seen(end)
    path.rapid(Point(foot.x + taper * frame.x_sign, path.at.z), "infeed")
    cut_thread(path, foot, frame.seen(start).x, pull_out, "thread")
    path.rapid(Point(frame.seen(start).x, path.at.z), "retract")
    path.rapid(frame.seen(start), "return to start")
    return frame.real_strokes(path.strokes)
