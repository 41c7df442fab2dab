"""A cycle's strokes, waits and spindle reversals recorded as moves and events, with the blocks that they rest on."""

from __future__ import annotations

from fractions import Fraction

from verifier.control.compensation.journal import COMPENSATED
from verifier.control.context import Context
from verifier.control.cycle_call import Call
from verifier.control.cycle_registry import CYCLES
from verifier.control.state import Coordinate
from verifier.control.strokes import Beat, Pause, Stroke
from verifier.control.trace import CycleCall

_OTHER = {"forward": "reverse", "reverse": "forward"}


def play(call: Call, beats: tuple[Beat, ...], behind: int) -> None:
    """Record a cycle's strokes as moves; `behind` is the origin of amounts that an earlier block gave."""
    ctx, record = call.ctx, call.ctx.record
    contour = tuple(range(call.found.first, call.found.last + 1)) if call.found else ()
    origin = made_of(call, behind, _beside_compensation(call))
    before = record.count
    if call.start_angle:
        ctx.put("start_angle", call.start_angle)
        call.amounts.number("start angle", call.start_angle, "deg")
    keep = (ctx.modal.x_origin, ctx.modal.z_origin)
    ctx.apart = call.code
    for beat in beats:
        _one(ctx, beat, origin)
    ctx.apart = ""
    ctx.modal.x_origin, ctx.modal.z_origin = keep
    if call.start_angle:
        ctx.put("start_angle", None)
    record.mark_ends(before)
    set_by = tuple(dict.fromkeys(b for b in (ctx.block, record.block_of(behind)) if b >= 0))
    record.cycles.append(
        CycleCall(
            call.code, ctx.block, dict(call.amounts.named), contour, before, record.count - before, set_by, call.name
        )
    )


def made_of(call: Call, behind: int, beside: int = -1) -> int:
    """The origin of what a cycle does: its own words and where it starts, its first line (`behind`), each block of its contour, and `beside`."""
    ctx, record = call.ctx, call.ctx.record
    own = record.origin(ctx.block, ctx.modal.x_origin, ctx.modal.z_origin)
    blocks = range(call.found.first, call.found.last + 1) if call.found is not None else range(0)
    return record.all_of(own, behind, beside, *map(record.origin, blocks))


def _beside_compensation(call: Call) -> int:
    """What is told of a cycle under nose compensation; what its moves rest on beside it where the compensated contour shapes them, or -1."""
    ctx = call.ctx
    side = ctx.modal.values["compensation"]
    if side not in COMPENSATED:
        return -1
    if not CYCLES[call.code].contour:
        reason = "the cycle is taken to be made without compensation; what this control does is not known"
        ctx.record.unknown(f"{call.code} under {side}", reason, ctx.block)
        return -1
    ctx.assume("compensation-in-roughing")
    return ctx.record.all_of(*(ctx.modal.origins.get(name, -1) for name in ("compensation", "tool", "offset")))


def _one(ctx: Context, beat: Beat, origin: int) -> None:
    if isinstance(beat, Pause):
        ctx.event("dwell", f"{Fraction(beat.milliseconds, 1000)} s")
    elif isinstance(beat, Stroke):
        ctx.travel(
            beat.kind,
            (Coordinate("", beat.end.x), Coordinate("", beat.end.z)),
            origins=(origin, origin),
            centre=beat.centre,
            step=beat.step,
            motion_origin=origin,
        )
    else:
        _turn_round(ctx)


def _turn_round(ctx: Context) -> None:
    """The spindle that holds the tap, or the part on it, turns the other way; a driven tool's spindle is only told."""
    sense = ctx.modal.values.get("sense")
    if sense in _OTHER:
        ctx.switch("sense", "spindle", _OTHER[sense])
    else:
        ctx.event("auxiliary", "tapping spindle turned round")
