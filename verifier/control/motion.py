"""Moves of single blocks: rapid, feed, arc, thread, by way of a reference point, in machine coordinates, and coordinate presets."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from verifier.control.arc_words import centre_of
from verifier.control.context import Context, along, axis_words, has_axis_words, target
from verifier.control.corner_words import angled, go, leftover
from verifier.control.instruction import Instruction, canonical
from verifier.control.live import OTHER_AXES, c_axis_home
from verifier.control.numbers import seconds
from verifier.control.shifts import in_force, keep, shift
from verifier.control.state import Coordinate, joined
from verifier.control.strokes import Kind


def straight(ctx: Context, ins: Instruction, kind: Kind) -> None:
    """G00 and G01: one straight move to the point named, with its corner to the next move."""
    goal = target(ctx, ins, ctx.counted_from())
    if kind is Kind.FEED:
        goal = angled(ctx, ins, goal)
    go(ctx, ins, kind, goal)


def arc(ctx: Context, ins: Instruction, kind: Kind) -> None:
    """G02 and G03 by R or by I and K; an arc that cannot be is a fault, and its move carries the words as a remark."""
    start = ctx.counted_from()
    goal = target(ctx, ins, start)
    words = [ins.take(letter) for letter in "RIK"]
    text = canonical([word for word in words if word is not None])
    centre, wrong = centre_of(ctx, ins, kind, start, goal)
    remark = ""
    if centre is None:
        if wrong:
            ctx.fault("arc-impossible", wrong, text)
        if not text and ctx.modal.values["plane"] in (None, "G18") and ctx.assume("arc-without-centre") == "straight":
            kind = Kind.FEED
        else:
            remark = text or "no centre"
            ctx.record.unknown(
                f"arc {remark}", wrong or "the arc starts or ends at a place that is not known", ctx.block
            )
    go(ctx, ins, kind, goal, centre, remark)


MOTIONS: dict[str, Callable[[Context, Instruction], None]] = {
    "G00": lambda ctx, ins: straight(ctx, ins, Kind.RAPID),
    "G01": lambda ctx, ins: straight(ctx, ins, Kind.FEED),
    "G02": lambda ctx, ins: arc(ctx, ins, Kind.ARC_CW),
    "G03": lambda ctx, ins: arc(ctx, ins, Kind.ARC_CCW),
}
"""A code of the motion group -> what its block does (threads and single cycles have modules of their own)."""


def dwell(ctx: Context, ins: Instruction) -> None:
    """G04: a dwell; X and U may count revolutions where the profile says so."""
    for letter in "XUP":
        word = ins.take(letter)
        if word is None:
            continue
        if word.number is None:
            ctx.unexecuted(f"dwell {canonical([word])}", "the value is one that only the machine knows")
        elif word.number.mantissa < 0:
            ctx.fault("negative-value", f"{word.text}: a dwell below zero", word.text)
            ctx.unexecuted(f"dwell {canonical([word])}", "a dwell below zero")
        elif letter == "P" and word.number.pointed and ctx.assume("dwell-p-with-point") == "seconds":
            ctx.event("dwell", f"{word.number.value} s")
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
    other = c_axis_home(ctx, ins, which)
    if not goal.named:
        if other or ins.has(OTHER_AXES):  # other axes go home alone
            text = leftover(ctx, ins)
            ctx.event("machine-code", f"{code}{which}{' ' if text else ''}{text}", certain=not text)
            return
        if ctx.assume("reference-without-axis") == "nothing-moves":
            text = leftover(ctx, ins)
            ctx.event("machine-code", f"{code}{which}{' ' if text else ''}{text}", certain=not text)
            return
        goal = replace(goal, named=("X", "Z"))
    ctx.modal.cycle["by-way-of"] = list(goal.point)
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


def return_from_reference(ctx: Context, ins: Instruction) -> None:
    """G29: at rapid through the point that the last G28 or G30 went by way of, to the point named."""
    by_way: list[Coordinate] | None = ctx.modal.cycle.get("by-way-of")
    if by_way is None:
        goal = target(ctx, ins)
        ctx.fault("return-without-reference", "G29 without G28 or G30 before it: the way back is not known", "G29")
        ctx.unexecuted(f"G29 {leftover(ctx, ins)}".strip(), "the point by way of which it returns is not known")
        ctx.modal.x, ctx.modal.z = goal.point
        ctx.modal.x_origin, ctx.modal.z_origin = goal.x_origin, goal.z_origin
        return
    first = ctx.record.count
    goal = target(ctx, ins, (by_way[0], by_way[1]))
    middle = tuple(
        via if axis in goal.named else here for axis, via, here in zip("XZ", by_way, ctx.position(), strict=True)
    )
    ctx.travel(Kind.RAPID, (middle[0], middle[1]), step="by way of")
    end = tuple(
        there if axis in goal.named else here
        for axis, there, here in zip("XZ", goal.point, ctx.position(), strict=True)
    )
    ctx.travel(
        Kind.RAPID, (end[0], end[1]), origins=(goal.x_origin, goal.z_origin), step="from the reference point",
        remark=leftover(ctx, ins),
    )  # fmt: skip
    ctx.record.mark_ends(first)


def machine_coordinates(ctx: Context, ins: Instruction) -> None:
    """G53: one move in machine coordinates, at the motion in force (a rapid on most controls)."""
    places = list(ctx.position())
    origins = [ctx.modal.x_origin, ctx.modal.z_origin]
    named = False
    for letter, (axis, relative) in axis_words(ctx).items():
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
    goal = target(ctx, ins, absolute=True)
    parts = list(shift(ctx, "preset"))
    for k, (axis, old, new) in enumerate(zip("XZ", before, goal.point, strict=True)):
        if axis not in goal.named:
            continue
        base = parts[k].base
        if old.base != new.base:
            base = joined(base, f"{old.base or 0}>{new.base or 0}")
        parts[k] = Coordinate(base, parts[k].ticks + old.ticks - new.ticks)
    keep(ctx, "preset", (parts[0], parts[1]))
    ctx.put("frame", in_force(ctx))
    ctx.modal.x, ctx.modal.z = goal.point
    ctx.modal.x_origin, ctx.modal.z_origin = goal.x_origin, goal.z_origin


def clamp_or_preset(ctx: Context, ins: Instruction) -> None:
    """G50: S is the speed clamp, axis words preset the coordinates."""
    word = ins.take("S")
    if word is not None:
        ctx.limit(word.number.value if word.number else canonical([word]))
        if word.number is None:
            ctx.record.unknown(f"clamp {word.text}", "the value is one that only the machine knows", ctx.block)
        elif word.number.mantissa <= 0:
            ctx.fault("clamp-not-positive", f"{word.text}: a speed clamp of zero or less", word.text)
            ctx.unexecuted(
                f"clamp {canonical([word])}", "what a control does with a clamp of zero or less is not known"
            )
    if has_axis_words(ins):
        preset(ctx, ins)
    if word is None and not ins.used & set("XZUW"):
        ctx.fault(
            "clamp-without-value",
            f"{ctx.name('G50')} without S and without an axis word does nothing that is known here",
        )
