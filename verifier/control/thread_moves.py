"""Single threading moves: G32 with one lead, G34 with a lead that grows or shrinks, chains of them, and the start angle.

F is the lead along the axis with the longer travel, Q the angle at which the spindle stands when the tool starts, so that several
starts can be cut (read in public sources). Threading moves that follow each other at once are one thread: the tool does not wait for the
marker again (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from verifier.control.compensation.journal import COMPENSATED
from verifier.control.context import Context, Target, target
from verifier.control.corner_words import leftover
from verifier.control.instruction import Instruction, canonical
from verifier.control.numbers import length
from verifier.control.strokes import Kind
from verifier.control.trace import TICKS_PER_MM
from verifier.syntax import Word


def thread(ctx: Context, ins: Instruction, *, varying: bool) -> None:
    """One threading move to the point named."""
    goal = target(ctx, ins, ctx.counted_from())
    joined = ctx.chain is not None and ctx.chain[0] == ctx.progress
    angle = _chained(ctx, ins) if joined else start_angle(ctx, ins)
    ctx.put("start_angle", angle)
    change = _lead_change(ctx, ins, goal) if varying else None
    ctx.put("lead_change", change)
    side = ctx.modal.values["compensation"]
    if side in COMPENSATED:
        ctx.record.unknown(f"thread under {side}", "taken to be made without compensation", ctx.block)
    ctx.travel(
        Kind.THREAD,
        goal.point,
        origins=(goal.x_origin, goal.z_origin),
        remark=leftover(ctx, ins),
        motion_origin=ctx.modal.origins.get("motion", -1),
    )
    for name in ("start_angle", "lead_change"):
        ctx.put(name, None)
    if joined:
        ctx.record.join_last()
    ctx.chain = (ctx.progress, angle)


def start_angle(ctx: Context, ins: Instruction) -> Fraction:
    """The start angle of a thread in degrees: Q, for its own block only; without it 0."""
    word = ins.take("Q")
    if word is None:
        return Fraction(0)
    if word.number is None:
        ctx.unexecuted(canonical([word]), "the start angle is a value that is not known here")
        return Fraction(0)
    in_degrees = ctx.assume("thread-start-angle") == "degrees"
    if word.number.pointed and not in_degrees:
        text = f"{word.text} must be a whole number of thousandths of a degree, without a point"
        ctx.fault("integer-word-with-point", text, word.text)
        ctx.unexecuted(canonical([word]), "what a control makes of a point in this word is not known")
    angle = word.number.value if in_degrees or word.number.pointed else word.number.value / 1000
    if not 0 <= angle <= 360:
        ctx.fault("start-angle-wrong", f"{word.text}: a start angle of {float(angle):g} degrees", word.text)
    return angle


def _chained(ctx: Context, ins: Instruction) -> Fraction:
    """In a joined block the spindle stands as the blocks before it left it."""
    assert ctx.chain is not None
    word = ins.take("Q")
    if word is not None:
        ctx.record.unknown(
            canonical([word]),
            "taken to do nothing: the block goes on with the thread of the block before it",
            ctx.block,
        )
    return ctx.chain[1]


def _lead_change(ctx: Context, ins: Instruction, goal: Target) -> Fraction | str:
    """K: by how many mm the lead grows in each revolution."""
    word: Word | None = ins.take("K")
    if word is None:
        ctx.fault(
            "lead-change-missing", "a thread of varying lead without K: by how much the lead changes is not given"
        )
        ctx.unexecuted("lead change without K", "by how much the lead changes is not given")
        return "not given"
    if word.number is None:
        return canonical([word])
    if not word.number.pointed and word.number.mantissa:
        ctx.assume("number-without-point")
    change = Fraction(length(word.number, ctx.units, ctx.machine), TICKS_PER_MM)
    lead = ctx.modal.values.get("lead")
    places = (*ctx.position(), *goal.point)
    if isinstance(lead, Fraction) and all(place.known for place in places):
        travel = max(abs(goal.x.ticks - ctx.modal.x.ticks), abs(goal.z.ticks - ctx.modal.z.ticks))
        if lead * lead + 2 * change * Fraction(travel, TICKS_PER_MM) <= 0:
            ctx.fault("lead-runs-out", f"{word.text}: the lead falls to nothing before the thread ends", word.text)
    return change


THREADS: dict[str, Callable[[Context, Instruction], None]] = {
    "G32": lambda ctx, ins: thread(ctx, ins, varying=False),
    "G34": lambda ctx, ins: thread(ctx, ins, varying=True),
}
"""A threading code of the motion group -> what its block does."""
