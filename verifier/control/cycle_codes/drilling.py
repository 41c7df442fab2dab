"""Drilling, boring and tapping cycles: their words as holes, one block after another until they are cancelled.

G83 to G85 along Z, G87 to G89 along X (radius), driven tools or not. Words: the place of the hole and its bottom, R from the
level where the cycle was first called, Q the peck, P the dwell, K the number of holes, and the M code that clamps the C axis (read in
public sources); what each block keeps for the next is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from verifier.control import cycles
from verifier.control.context import Context, along, axis_words
from verifier.control.cycle_call import Call
from verifier.control.cycle_play import play
from verifier.control.cycle_registry import Lasts, cycle
from verifier.control.cycle_words import CycleRefused, dwell_milliseconds, needed, parameter
from verifier.control.instruction import canonical
from verifier.control.live import turn_for_hole
from verifier.control.run import MOVE_LIMIT
from verifier.control.state import Coordinate
from verifier.control.strokes import Beat, CycleFault, Kind, Point
from verifier.machines import INCREMENTAL, TO_R

HOLES: dict[str, tuple[str, str]] = {
    "G83": ("Z", "drill"),
    "G84": ("Z", "tap"),
    "G85": ("Z", "bore"),
    "G87": ("X", "drill"),
    "G88": ("X", "tap"),
    "G89": ("X", "bore"),
}
"""Cycle code -> the axis along which the hole goes, and its kind."""

CLAMPED = ("c-axis", "clamped")
"""The auxiliary state by which a profile tells the M code that clamps the C axis; the cycle sets it free after each hole."""
RIGID = ("tapping", "rigid")
"""The auxiliary state by which a profile tells the M code of rigid tapping; it ends with the drilling cycle."""


@dataclass(frozen=True, slots=True)
class Kept:
    """What a drilling cycle keeps from block to block: levels along its axis, peck in ticks, dwell in thousandths of a second."""

    initial: Coordinate
    level: Coordinate
    bottom: Coordinate | None = None
    peck: int | None = None
    dwell: int = 0
    clamp: bool = False


def begin_drilling(ctx: Context, code: str) -> None:
    """Put a drilling cycle in force; another one of the same axis keeps the words of the one before it."""
    before = ctx.modal.cycle.get("drilling")
    if before is not None and HOLES[before][0] != HOLES[code][0]:
        ctx.modal.cycle.pop("hole", None)
    ctx.modal.cycle["drilling"] = code


def end_drilling(ctx: Context) -> None:
    """Cancel whatever drilling cycle is in force, with its words and rigid tapping."""
    if ctx.modal.cycle.pop("drilling", None) is None:
        return
    for name in ("hole", "hole-origin"):
        ctx.modal.cycle.pop(name, None)
    if ctx.modal.auxiliaries.get(RIGID[0]) == RIGID[1]:
        del ctx.modal.auxiliaries[RIGID[0]]
        ctx.modal.version += 1


@cycle(*HOLES, lasts=Lasts.HOLES)
def drilling(call: Call) -> None:
    """One block under a drilling cycle: its holes, or only words for the blocks that follow."""
    ctx = call.ctx
    axis, kind = HOLES[call.code]
    other = "Z" if axis == "X" else "X"
    here = dict(zip("XZ", ctx.position(), strict=True))
    before: Kept | None = ctx.modal.cycle.get("hole")
    kept = _with_words(call, axis, before or Kept(here[axis], here[axis]))
    behind = ctx.modal.cycle.get("hole-origin", -1) if before else -1
    ctx.modal.cycle["hole"], ctx.modal.cycle["hole-origin"] = kept, ctx.record.origin(ctx.block, behind)
    step = _places(call, other)
    wanted, count = call.ins.has("XUZWCHR"), _count(call)
    if count == 0 and wanted:
        ctx.record.unknown("K0", "taken to keep the words of the cycle without making a hole", ctx.block)
    if count != 1 and not wanted:
        told = canonical([word for letter in "KL" if (word := call.ins.words.get(letter))])
        ctx.record.unknown(told, "the block has no hole to repeat; taken to mean nothing", ctx.block)
    begun = ctx.record.count
    for made in range(count if wanted else 0):
        if made == 1:
            _within_limits(ctx, begun, count, moving=step(here[other]) != here[other])
        here[other] = step(here[other])
        try:
            _hole(call, axis, kind, kept, here, behind)
        except CycleRefused:
            ctx.modal.x, ctx.modal.z = here["X"], here["Z"]
            raise


def _within_limits(ctx: Context, begun: int, count: int, *, moving: bool) -> None:
    """After the first of several holes: refuses the others where all of them would take more moves than are ever written out."""
    more = (ctx.record.count - begun) * (count - 1)
    if ctx.record.count + more > MOVE_LIMIT:
        if moving:
            ctx.modal.x, ctx.modal.z = (place.through(f"after {count - 1} more holes") for place in ctx.position())
        reason = f"{count - 1:,} more holes would take {more:,} moves; at most {MOVE_LIMIT:,} are written out"
        raise CycleRefused("too-many-strokes", reason)


def _with_words(call: Call, axis: str, kept: Kept) -> Kept:
    """The words of this block over those kept."""
    ctx, amounts = call.ctx, call.amounts
    rise = amounts.length("R", "R level")
    if rise is not None:
        kept = replace(kept, level=_level(ctx, axis, kept.initial, rise))
        rise = kept.level.ticks - kept.initial.ticks
    for letter, (named, relative) in axis_words(call.ctx).items():
        word = call.ins.take(letter) if named == axis else None
        if word is not None:
            start = kept.level if not relative or ctx.assume("drill-increment") == "from-r-level" else kept.initial
            kept = replace(kept, bottom=along(ctx, word, axis, start, relative=relative))
    if rise and kept.bottom is not None and rise * (kept.bottom.ticks - kept.initial.ticks) < 0:
        told = canonical([call.ins.words["R"]])
        ctx.record.unknown(told, "it leads away from the hole; a control may count R without its sign", ctx.block)
    peck = amounts.length("Q", "peck")
    if peck is not None:
        kept = replace(kept, peck=peck or None)
        if not peck or HOLES[call.code][1] != "drill":
            ctx.record.unknown(
                canonical([call.ins.words["Q"]]), "taken to mean: without pecks, in one stroke", ctx.block
            )
    dwell = dwell_milliseconds(amounts, "P")
    clamp = any(CLAMPED in entry.sets for code, _ in call.ins.m if (entry := ctx.machine.m_codes.get(code)))
    return replace(kept, dwell=kept.dwell if dwell is None else dwell, clamp=kept.clamp or clamp)


def _level(ctx: Context, axis: str, initial: Coordinate, given: int) -> Coordinate:
    """The R level: an increment from where the cycle was first called, or in code sets B and C a coordinate under absolute coordinates."""
    if ctx.machine.code_set == "A" or ctx.modal.values.get("distance") == INCREMENTAL:
        return initial.plus(given)
    if ctx.assume("drill-r-level") == "increment":
        return initial.plus(given)
    return Coordinate("", ctx.radius(given, axis))


def _places(call: Call, axis: str) -> Callable[[Coordinate], Coordinate]:
    """What leads from one hole's place along an axis to the next one's: nothing, one place for all, or an increment for each."""
    words = [
        (word, relative)
        for letter, (named, relative) in axis_words(call.ctx).items()
        if named == axis and (word := call.ins.take(letter)) is not None
    ]

    def step(here: Coordinate) -> Coordinate:
        for word, relative in words:
            here = along(call.ctx, word, axis, here, relative=relative)
        return here

    return step


def _count(call: Call) -> int:
    """How many holes the block makes: K, or L."""
    found = [count for letter in "KL" if (count := call.amounts.whole(letter, "holes")) is not None]
    if any(count < 0 for count in found):
        raise CycleRefused("repeats-negative", f"the hole is to be made {found[0]} times")
    return found[0] if found else 1


def _hole(call: Call, axis: str, kind: str, kept: Kept, here: dict[str, Coordinate], behind: int) -> None:
    """Turn and go to the place of the hole, clamp, make it, and let the C axis go again."""
    ctx = call.ctx
    turn_for_hole(ctx, call.ins)
    if kept.bottom is None:
        raise CycleRefused("cycle-amount-missing", "the cycle was called without the bottom of the hole")
    if not all(place.known for place in (kept.initial, kept.level, kept.bottom, *here.values())):
        raise CycleRefused("", "the hole lies at a place that is not known here")
    beats = _expanded(call, axis, kind, kept, Point(here["X"].ticks, here["Z"].ticks))
    first = ctx.record.count
    if (here["X"], here["Z"]) != ctx.position():
        ctx.travel(Kind.RAPID, (here["X"], here["Z"]), step="to the hole")
    if kept.clamp:
        ctx.put_auxiliary(*CLAMPED)
    play(call, beats, behind)
    if kept.clamp:
        ctx.put_auxiliary(CLAMPED[0], "free")
    ctx.record.mark_ends(first)


def _expanded(call: Call, axis: str, kind: str, kept: Kept, at: Point) -> tuple[Beat, ...]:
    """The strokes of one hole, from the level where the cycle was first called."""
    ctx = call.ctx
    assert kept.bottom is not None
    depth = abs(kept.level.ticks - kept.bottom.ticks)
    pecking = kind == "drill" and kept.peck is not None and kept.peck < depth
    clearance = 0
    if pecking:
        retract = ctx.machine.cycles.drill_retract_mm
        clearance = needed(parameter(call.amounts, retract, "clearance of a peck", call.name), "clearance of a peck")
    hole = cycles.Hole(
        kind=kind,
        level=kept.level.ticks,
        bottom=kept.bottom.ticks,
        back=kept.level.ticks if ctx.modal.values.get("return_level") == TO_R else kept.initial.ticks,
        peck=kept.peck if kind == "drill" else None,
        clearance=clearance,
        full=pecking and ctx.assume("drill-retract") == "full",
        dwell=kept.dwell,
    )
    call.amounts.note(f"end {axis}", ctx.programmed(hole.bottom, axis))
    call.amounts.note("R level", ctx.programmed(hole.level, axis))
    found = (cycles.drill_radial if axis == "X" else cycles.drill_axial)(at, hole)
    if isinstance(found, CycleFault):
        raise CycleRefused(found.code, found.message)
    return found
