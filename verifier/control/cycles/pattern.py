"""The pattern-repeating cycle: the whole contour several times, each time closer to the part (G73).

Pass j of n follows the contour moved by the allowance and by (n - j)/(n - 1) of the escape; the last pass leaves the
allowance. Motion and the return to the start are read in public sources; the even spacing is common practice, no
source.
"""

from __future__ import annotations

from fractions import Fraction

from verifier.control.cycles.path import Path, shifted, shifted_segment, too_many
from verifier.control.strokes import Contour, CycleFault, Expansion, Point


def pattern_repeat(
    start: Point,
    contour: Contour,
    escape_x: int,
    escape_z: int,
    allowance_x: int,
    allowance_z: int,
    passes: int,
) -> Expansion:
    """Follow the contour `passes` times; escapes and allowances are signed ticks, X as radius.

    Each pass begins with a rapid to the start point moved like the pass; the contour's first block leads from there to
    its first point. With one pass the escape has no part in it.
    """
    if passes < 1:
        return CycleFault("passes-not-positive", f"the contour is to be repeated {passes} times")
    if not contour.segments:
        return CycleFault("contour-empty", "there is no move between the two labels of the contour")
    fault = too_many(passes * (len(contour.segments) + 1) + 1, "too many passes")
    if fault is not None:
        return fault
    path = Path(start)
    for number in range(1, passes + 1):
        share = Fraction(passes - number, passes - 1) if passes > 1 else Fraction(0)
        dx = allowance_x + round(escape_x * share)
        dz = allowance_z + round(escape_z * share)
        step = f"pass {number} of {passes}"
        path.rapid(shifted(start, dx, dz), f"{step}: approach")
        path.follow(tuple(shifted_segment(s, dx, dz) for s in contour.segments), f"{step}: contour")
    path.rapid(start, "return to start")
    return path.strokes
