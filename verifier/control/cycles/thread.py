"""The multi-pass threading cycle: depths by the square-root rule or in equal steps, a flank shift per pass (G76).

After n roughing passes the depth is first * sqrt(n), so that every pass takes the same section of swarf; an increment
below the minimum becomes the minimum (read in public sources). Roughing stops short of the height by the allowance; the
first finishing pass takes that, the others are spring passes (common practice, no source).
"""

from __future__ import annotations

from math import isqrt, pi, tan

from verifier.control.cycles.frame import Frame, sign
from verifier.control.cycles.path import Path
from verifier.control.cycles.thread_cut import cut_thread, thread_fault
from verifier.control.strokes import CycleFault, Expansion, Point
from verifier.source import VerifierError

INFEEDS = ("single-flank", "plunge", "both-flanks")
"""How the tool goes in: along one flank, straight, or along either flank in turn."""

PASS_LIMIT = 2_000
"""At most five strokes a pass, so a threading cycle stays below 10,000 strokes."""


def thread_depths(
    height: int, first: int, minimum: int, allowance: int, finish_passes: int, *, equal: bool = False
) -> tuple[int, ...]:
    """The cumulative radius depth of every pass in ticks, roughing passes and then finishing passes.

    `equal`: every roughing pass goes in by the same amount (and `minimum` has no part in it).
    At most PASS_LIMIT + 1 depths are given: one more than is allowed says that there would be more.
    Raises VerifierError for amounts that `multi_thread` names as a fault.
    """
    fault = _amount_fault(height, first, minimum, allowance, finish_passes)
    if fault is not None:
        raise VerifierError(fault.message)
    rough = _rough_depths(height - allowance, first, first if equal else minimum)
    return (*rough, *(height for _ in range(min(finish_passes, PASS_LIMIT + 1))))[: PASS_LIMIT + 1]


def multi_thread(
    start: Point,
    end: Point,
    taper: int,
    height: int,
    first: int,
    minimum: int,
    allowance: int,
    finish_passes: int,
    angle_tenths: int,
    pull_out: int,
    lead: int,
    infeed: str,
    equal: bool = False,
) -> Expansion:
    """All passes of a thread whose final minor (internal: major) X is `end`.x; lengths in ticks, X as radius.

    `height` radius height, `first` depth of the first pass, `taper` signed (cut start minus cut end), `angle_tenths`
    the included angle of the tool in 0.1 degree. `infeed` is one of INFEEDS. "single-flank": the start of a pass lies
    short of the last roughing pass's, by the difference in depth times tan(angle / 2), so that one flank cuts;
    "both-flanks": every second pass lies beyond it instead. `equal`: equal depths. Every pass ends at `end`.z.
    """
    fault = _amount_fault(height, first, minimum, allowance, finish_passes) or thread_fault(start, end, lead, pull_out)
    if fault is None and start.x == end.x:
        fault = CycleFault("thread-without-depth", "the start is not clear of the thread in X")
    if fault is None and not 0 <= angle_tenths < 1800:
        fault = CycleFault("thread-angle-wrong", f"the thread angle is {angle_tenths} tenths of a degree")
    if fault is not None:
        return fault
    depths = thread_depths(height, first, minimum, allowance, finish_passes, equal=equal)
    if len(depths) > PASS_LIMIT:
        return CycleFault(
            "too-many-strokes", f"the thread would take more than {PASS_LIMIT} passes: an amount is too small"
        )
    frame = Frame(False, sign(start.x - end.x), sign(start.z - end.z))
    begin, foot = frame.seen(start), frame.seen(end)
    slope = 0.0 if infeed == "plunge" else tan(angle_tenths * pi / 3600)
    last_rough = height - allowance
    path = Path(begin)
    for number, depth in enumerate(depths, start=1):
        step = _step(number, len(depths), finish_passes)
        level = foot.x + height - depth
        shift = round(max(0, last_rough - depth) * slope)
        if infeed == "both-flanks" and number % 2 == 0:
            shift = -shift
        path.rapid(Point(begin.x, begin.z + shift), f"{step}: to the start of the pass")
        path.rapid(Point(level + taper * frame.x_sign, path.at.z), f"{step}: infeed")
        cut_thread(path, Point(level, foot.z), begin.x, pull_out, step)
        path.rapid(Point(begin.x, path.at.z), f"{step}: retract")
    path.rapid(begin, "return to start")
    return frame.real_strokes(path.strokes)


def _step(number: int, count: int, finish_passes: int) -> str:
    """The name of a pass: "thread pass 4 of 13", then "finish pass 1 of 2"."""
    rough = count - finish_passes
    if number > rough:
        return f"finish pass {number - rough} of {finish_passes}"
    return f"thread pass {number} of {rough}"


def _rough_depths(target: int, first: int, minimum: int) -> list[int]:
    """Depths of the roughing passes, the last one at `target`; cut off one beyond PASS_LIMIT."""
    depths: list[int] = []
    depth, number = 0, 0
    while depth < target and len(depths) <= PASS_LIMIT:
        number += 1
        # Increments of the square-root rule only get smaller: once one is below the minimum, all that follow are.
        depth = depth + minimum if _below(number, first, minimum) else _rooted(first, number)
        depths.append(min(depth, target))
    return depths


def _rooted(first: int, number: int) -> int:
    """Depth by the rule, first * sqrt(number), rounded to the nearest tick, with integers only."""
    return (isqrt(4 * first * first * number) + 1) // 2


def _below(number: int, first: int, minimum: int) -> bool:
    """Whether first * (sqrt(n) - sqrt(n - 1)) < minimum, decided exactly: sqrt(A) < m + sqrt(B), squared twice."""
    a, b = first * first * number, first * first * (number - 1)
    rest = a - b - minimum * minimum
    return rest < 0 or rest * rest < 4 * minimum * minimum * b


def _amount_fault(height: int, first: int, minimum: int, allowance: int, finish_passes: int) -> CycleFault | None:
    if height <= 0:
        return CycleFault("thread-height-not-positive", "the height of the thread is not above zero")
    if first <= 0:
        return CycleFault("thread-depth-not-positive", "the depth of the first pass is not above zero")
    if minimum < 0 or allowance < 0:
        return CycleFault("amount-negative", "the smallest depth and the allowance of a thread are unsigned")
    if allowance >= height:
        return CycleFault("allowance-not-below-height", "the finish allowance is the whole height of the thread")
    if finish_passes < 1:
        return CycleFault("finish-passes-not-positive", f"the number of finishing passes is {finish_passes}")
    return None
