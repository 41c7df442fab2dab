"""Where the centre of a programmed arc lies: by R, or by I and K, and what is wrong with an arc that cannot be."""

from __future__ import annotations

from verifier.control.arcs import MISMATCH, centre_from_radius, radius_mismatch
from verifier.control.context import FARTHEST, Context, Target
from verifier.control.instruction import Instruction
from verifier.control.numbers import length
from verifier.control.state import Coordinate
from verifier.control.strokes import Kind, Point
from verifier.control.trace import TICKS_PER_MM


def centre_of(
    ctx: Context, ins: Instruction, kind: Kind, start: tuple[Coordinate, Coordinate], goal: Target
) -> tuple[Point | None, str]:
    """The centre of an arc and, where there is none, what is wrong with it (empty: only not known)."""
    if ctx.modal.values["plane"] in ("G17", "G19"):
        return (
            None,
            f"an arc in the plane {ctx.modal.values['plane']}: only arcs in the plane of X and Z (G18) are computed",
        )
    if not ins.has("RIK"):
        return None, "an arc needs R, or I and K"
    if not all(c.known for c in (*start, *goal.point)):
        return None, ""
    begin, end = Point(start[0].ticks, start[1].ticks), Point(goal.x.ticks, goal.z.ticks)
    by_radius = ins.words.get("R")
    if by_radius is not None:
        if ins.has("IK"):
            ctx.fault("arc-by-two-forms", f"{by_radius.text} beside I or K: only R is taken", by_radius.text)
        if by_radius.number is None:
            return None, ""
        radius = length(by_radius.number, ctx.units, ctx.machine)
        if not by_radius.number.pointed:
            ctx.assume("number-without-point")
        if radius > FARTHEST:
            return None, "the centre of the arc lies farther away than any machine reaches"
        if radius <= 0:
            return None, "a lathe arc by R needs a radius above zero; got " + by_radius.text
        centre = centre_from_radius(kind, begin, end, radius)
        return centre, "" if centre else f"an arc of {by_radius.text} does not reach from its start to its end"
    offsets = []
    for letter in "IK":
        word = ins.words.get(letter)
        if word is not None and word.number is None:
            return None, ""
        offsets.append(length(word.number, ctx.units, ctx.machine) if word is not None and word.number else 0)
        if word is not None and word.number is not None and not word.number.pointed and word.number.mantissa:
            ctx.assume("number-without-point")
    if max(map(abs, offsets)) > FARTHEST:
        return None, "the centre of the arc lies farther away than any machine reaches"
    centre = Point(begin.x + offsets[0], begin.z + offsets[1])
    gap = radius_mismatch(begin, end, centre)
    if gap > MISMATCH[ctx.units]:
        ctx.fault(
            "arc-ends-off-circle",
            f"the end of the arc lies {gap / TICKS_PER_MM:.4f} mm off the circle about its centre",
            ins.block.words[0].text if ins.block.words else "",
        )
    return centre, ""
