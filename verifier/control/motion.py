"""Moves of single blocks: rapid, feed, arc, thread, by way of a reference point, in machine coordinates, and coordinate presets."""

from __future__ import annotations

from collections.abc import Callable

from verifier.control.arcs import MISMATCH, centre_from_radius, radius_mismatch
from verifier.control.context import AXIS_WORDS, FARTHEST, Context, Target, along, has_axis_words, target
from verifier.control.instruction import Instruction, canonical
from verifier.control.numbers import length, seconds
from verifier.control.state import Coordinate, joined
from verifier.control.strokes import Kind, Point
from verifier.control.trace import TICKS_PER_MM

_CORNER_WORDS = ("R", "C", "A", ",R", ",C", ",A")


def leftover(ctx: Context, ins: Instruction) -> str:
    """What stands in the block beside the words that were understood: a remark on the move, and an entry among the unchecked."""
    left = ins.left()
    if not left:
        return ""
    ins.used.update(word.letter for word in left)
    text = canonical(left)
    ctx.record.unknown(text, "this word is not executed on a move", ctx.block)
    return text


def straight(ctx: Context, ins: Instruction, kind: Kind) -> None:
    """G00 and G01: one straight move to the point named."""
    goal = target(ctx, ins)
    goal = _angle_words(ctx, ins, goal)
    _compensated(ctx)
    ctx.travel(
        kind,
        goal.point,
        origins=(goal.x_origin, goal.z_origin),
        remark=leftover(ctx, ins),
        motion_origin=ctx.modal.origins.get("motion", -1),
    )


def _angle_words(ctx: Context, ins: Instruction, goal: Target) -> Target:
    """With an angle word and one axis the other coordinate follows from the angle, which is not computed yet: it is unknown."""
    angle = ins.words.get("A") or ins.words.get(",A")
    if angle is None or len(goal.named) != 1:
        return goal
    text = canonical([angle])
    if goal.named == ("X",):
        return Target(goal.x, goal.z.through(f"Z by {text}"), goal.x_origin, ctx.origin, goal.named)
    return Target(goal.x.through(f"X by {text}"), goal.z, ctx.origin, goal.z_origin, goal.named)


def _compensated(ctx: Context) -> None:
    side = ctx.modal.values["compensation"]
    if side in ("G41", "G42"):
        ctx.record.unknown(
            f"path under {side}", "the path of the tool nose under compensation is not computed yet", ctx.block
        )


def arc(ctx: Context, ins: Instruction, kind: Kind) -> None:
    """G02 and G03 by R or by I and K; an arc that cannot be is a fault, and its move carries the words as a remark."""
    start = ctx.position()
    goal = target(ctx, ins)
    words = [ins.take(letter) for letter in "RIK"]
    text = canonical([word for word in words if word is not None])
    centre, wrong = _centre(ctx, ins, kind, start, goal)
    remark = ""
    if centre is None:
        remark = text or "no centre"
        if wrong:
            ctx.fault("arc-impossible", wrong, text)
        ctx.record.unknown(f"arc {remark}", wrong or "the arc starts or ends at a place that is not known", ctx.block)
    _compensated(ctx)
    extra = leftover(ctx, ins)
    ctx.travel(
        kind,
        goal.point,
        origins=(goal.x_origin, goal.z_origin),
        centre=centre,
        remark=" ".join(filter(None, (remark, extra))),
        motion_origin=ctx.modal.origins.get("motion", -1),
    )


def _centre(
    ctx: Context, ins: Instruction, kind: Kind, start: tuple[Coordinate, Coordinate], goal: Target
) -> tuple[Point | None, str]:
    """The centre of an arc and, where there is none, what is wrong with it (empty: only not known)."""
    if ctx.modal.values["plane"] in ("G17", "G19"):
        return (
            None,
            f"an arc in the plane {ctx.modal.values['plane']}: only arcs in the plane of X and Z (G18) are computed",
        )
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
    if "I" not in ins.words and "K" not in ins.words:
        return None, "an arc needs R, or I and K"
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


def thread(ctx: Context, ins: Instruction) -> None:
    """G32: one threading move; F is the lead along the axis with the longer travel."""
    goal = target(ctx, ins)
    _compensated(ctx)
    ctx.travel(
        Kind.THREAD,
        goal.point,
        origins=(goal.x_origin, goal.z_origin),
        remark=leftover(ctx, ins),
        motion_origin=ctx.modal.origins.get("motion", -1),
    )


MOTIONS: dict[str, Callable[[Context, Instruction], None]] = {
    "G00": lambda ctx, ins: straight(ctx, ins, Kind.RAPID),
    "G01": lambda ctx, ins: straight(ctx, ins, Kind.FEED),
    "G02": lambda ctx, ins: arc(ctx, ins, Kind.ARC_CW),
    "G03": lambda ctx, ins: arc(ctx, ins, Kind.ARC_CCW),
    "G32": thread,
}
"""A code of the motion group -> what its block does (single cycles are added by the cycle calls)."""


def dwell(ctx: Context, ins: Instruction) -> None:
    """G04: a dwell; X and U may count revolutions where the profile says so."""
    for letter in "XUP":
        word = ins.take(letter)
        if word is None:
            continue
        if word.number is None:
            ctx.unexecuted(f"dwell {canonical([word])}", "the value is an expression; expressions are not computed yet")
        elif word.number.mantissa < 0:
            ctx.fault("negative-value", f"{word.text}: a dwell below zero", word.text)
            ctx.unexecuted(f"dwell {canonical([word])}", "a dwell below zero")
        elif letter == "P" and word.number.pointed:
            ctx.fault("integer-word-with-point", f"{word.text} must be a whole number of milliseconds", word.text)
            ctx.unexecuted(f"dwell {canonical([word])}", "controls read a pointed P as seconds, or stop with an alarm")
        else:
            value = seconds(word.number, letter, ctx.machine, ctx.units)
            revolutions = (
                letter != "P"
                and ctx.modal.values["feed_mode"] == "per-revolution"
                and ctx.assume("dwell-x-u") == "revolutions-per-rev-feed"
            )
            ctx.event("dwell", f"{value} {'rev' if revolutions else 's'}")
        return
    ctx.fault("dwell-without-time", "G04 without P, X or U: no dwell time is given")
    ctx.unexecuted("dwell without a time", "G04 without P, X or U")


def reference(ctx: Context, ins: Instruction, code: str) -> None:
    """G28 and G30: at rapid through the point named to the reference point, only the axes named."""
    which = ""
    if code == "G30":
        word = ins.take("P")
        which = f" {canonical([word])}" if word else " P2"
    goal = target(ctx, ins)
    if not goal.named:
        ctx.unexecuted(f"{code}{which} without an axis", "which axes then go there is the control's choice")
        ctx.modal.x, ctx.modal.z = Coordinate(f"X after {code}{which}", 0), Coordinate(f"Z after {code}{which}", 0)
        ctx.modal.x_origin = ctx.modal.z_origin = ctx.origin
        return
    first = ctx.record.count
    if goal.point != ctx.position():
        ctx.travel(Kind.RAPID, goal.point, origins=(goal.x_origin, goal.z_origin), step="by way of")
    home = tuple(
        Coordinate(f"{axis} at reference{which}", 0) if axis in goal.named else place
        for axis, place in zip("XZ", ctx.position(), strict=True)
    )
    here = ctx.origin
    ctx.travel(
        Kind.RAPID,
        (home[0], home[1]),
        origins=tuple(  # type: ignore[arg-type]
            here if axis in goal.named else old
            for axis, old in zip("XZ", (ctx.modal.x_origin, ctx.modal.z_origin), strict=True)
        ),
        step="to the reference point",
        remark=leftover(ctx, ins),
    )
    ctx.record.mark_ends(first)


def machine_coordinates(ctx: Context, ins: Instruction) -> None:
    """G53: one move in machine coordinates, at the motion in force (a rapid on most controls)."""
    places = list(ctx.position())
    origins = [ctx.modal.x_origin, ctx.modal.z_origin]
    named = False
    for letter, (axis, relative) in AXIS_WORDS.items():
        word = ins.take(letter)
        if word is None:
            continue
        named = True
        if relative:
            told = f"G53 {canonical([word])}"
            ctx.record.unknown(
                told, "an increment beside G53: controls ignore it, or move by it as taken here", ctx.block
            )
        k = "XZ".index(axis)
        moved = along(ctx, word, axis, places[k], relative=relative)
        places[k] = (
            moved if relative else Coordinate(f"{axis} in machine coordinates|{moved.base}".rstrip("|"), moved.ticks)
        )
        origins[k] = ctx.origin
    if not named:
        ctx.unexecuted("G53 without an axis", "a move in machine coordinates that names no axis")
        return
    kind = Kind.FEED if ctx.modal.values["motion"] == "G01" else Kind.RAPID
    ctx.travel(kind, (places[0], places[1]), origins=(origins[0], origins[1]), remark=leftover(ctx, ins))


def preset(ctx: Context, ins: Instruction) -> None:
    """G50 with axis words: the present place gets the values given; everything after is in shifted coordinates."""
    before = ctx.position()
    goal = target(ctx, ins)
    xb, xs, zb, zs = ctx.modal.values["frame"]
    frame = {"X": [xb, xs], "Z": [zb, zs]}
    for axis, old, new in zip("XZ", before, goal.point, strict=True):
        if axis not in goal.named:
            continue
        if old.base != new.base:
            frame[axis][0] = joined(frame[axis][0], f"{old.base or 0}>{new.base or 0}")
        frame[axis][1] += old.ticks - new.ticks
    ctx.put("frame", (*frame["X"], *frame["Z"]))
    ctx.modal.x, ctx.modal.z = goal.point
    ctx.modal.x_origin, ctx.modal.z_origin = goal.x_origin, goal.z_origin


def clamp_or_preset(ctx: Context, ins: Instruction) -> None:
    """G50: S is the speed clamp, axis words preset the coordinates."""
    word = ins.take("S")
    if word is not None:
        ctx.put("clamp", word.number.value if word.number else canonical([word]))
        if word.number is None:
            ctx.record.unknown(
                f"clamp {word.text}", "the value is an expression; expressions are not computed yet", ctx.block
            )
        elif word.number.mantissa <= 0:
            ctx.fault("clamp-not-positive", f"{word.text}: a speed clamp of zero or less", word.text)
            ctx.unexecuted(
                f"clamp {canonical([word])}", "what a control does with a clamp of zero or less is not known"
            )
    if has_axis_words(ins):
        preset(ctx, ins)
    if word is None and not ins.used & set("XZUW"):
        ctx.fault("clamp-without-value", "G50 without S and without an axis word does nothing that is known here")
