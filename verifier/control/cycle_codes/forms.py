"""Turning, facing, roughing, pattern and peck cycles: their words as amounts, their amounts as strokes."""

from __future__ import annotations

from fractions import Fraction

from verifier.control import cycles
from verifier.control.context import along, axis_words
from verifier.control.cycle_call import Call
from verifier.control.cycle_codes.threads import lead_of, pull_out_tenths
from verifier.control.cycle_registry import Lasts, cycle
from verifier.control.cycle_words import CycleRefused, needed, parameter
from verifier.control.instruction import canonical
from verifier.control.state import Coordinate
from verifier.control.strokes import Contour, Expansion, Kind, Point
from verifier.control.thread_moves import start_angle


def _retract(call: Call, given: Fraction | None, name: str) -> int:
    kept, _ = call.first_line()
    if "retract" in kept:
        call.amounts.note(name, kept["retract"])
        return kept["retract"]
    return needed(parameter(call.amounts, given, name, call.code), name)


def _contour(call: Call) -> Contour:
    first, last = call.amounts.whole("P", ""), call.amounts.whole("Q", "")
    call.found = call.runner.find_contour(
        call.ctx, needed(first, "first label P"), needed(last, "last label Q"), behind=False
    )
    return call.runner.dry_contour(call.ctx, call.found)


@cycle("G71", "G72", contour=True)
def rough(call: Call) -> Expansion | None:
    """G71 along Z, G72 along X, in the two-block or the one-block form."""
    along_z = call.code == "G71"
    if not call.ins.has("PQ"):
        depth = call.amounts.length("U" if along_z else "W", "depth of cut")
        call.keep({"depth": depth, "retract": call.amounts.length("R", "retract")})
        return None
    kept, _ = call.first_line()
    contour = _contour(call)
    depth = call.amounts.one_block("D", "depth of cut")
    if depth is None and "depth" in kept:
        depth = kept["depth"]
        call.amounts.note("depth of cut", depth)
    allowance_x = call.amounts.length("U", "finish allowance in X", diameter=True) or 0
    allowance_z = call.amounts.length("W", "finish allowance in Z") or 0
    retract = _retract(call, call.ctx.machine.cycles.rough_retract_mm, "retract")
    infeed = contour.segments[0].kind if contour.segments else Kind.RAPID
    expand = cycles.rough_turn if along_z else cycles.rough_face
    pockets = contour.names_both_axes and call.ctx.assume("rough-pockets") == "allowed"
    call.ctx.assume("rough-infeed")
    return expand(
        call.start(), contour, needed(depth, "depth of cut"), retract, allowance_x, allowance_z,
        infeed if infeed is Kind.RAPID else Kind.FEED, pockets,
    )  # fmt: skip


@cycle("G73", contour=True)
def pattern(call: Call) -> Expansion | None:
    """G73: the contour several times, in the two-block or the one-block form."""
    if not call.ins.has("PQ"):
        call.keep(
            {
                "escape-x": call.amounts.length("U", "escape in X"),
                "escape-z": call.amounts.length("W", "escape in Z"),
                "passes": call.amounts.whole("R", "passes"),
            }
        )
        return None
    kept, _ = call.first_line()
    one_block = call.ins.has("IKD")
    contour = _contour(call)
    if one_block:
        escape_x, escape_z = call.amounts.length("I", "escape in X"), call.amounts.length("K", "escape in Z")
        passes = call.amounts.whole("D", "passes")
    else:
        escape_x, escape_z, passes = kept.get("escape-x"), kept.get("escape-z"), kept.get("passes")
    return cycles.pattern_repeat(
        call.start(), contour, escape_x or 0, escape_z or 0,
        call.amounts.length("U", "finish allowance in X", diameter=True) or 0,
        call.amounts.length("W", "finish allowance in Z") or 0,
        needed(passes, "number of passes"),
    )  # fmt: skip


@cycle("G74", "G75")
def peck(call: Call) -> Expansion | None:
    """G75 (grooves along X) and G74 (pecks along Z)."""
    groove = call.code == "G75"
    if not call.ins.has("XUZWPQIK"):
        call.keep({"retract": call.amounts.length("R", "peck retract")})
        return None
    start, end = call.start(), call.end()
    if call.ins.has("IK"):
        along_x, along_z = call.amounts.length("I", "amount in X"), call.amounts.length("K", "amount in Z")
        relief = call.amounts.one_block("D", "relief") or 0
    else:
        along_x, along_z = call.amounts.smallest("P", "amount in X"), call.amounts.smallest("Q", "amount in Z")
        relief = call.amounts.length("R", "relief") or 0
    names = ("peck", "step") if groove else ("step", "peck")
    for old, new in zip(("amount in X", "amount in Z"), names, strict=True):
        if old in call.amounts.named:
            call.amounts.named[new] = call.amounts.named.pop(old)
    for axis, amount, travel in (("X", along_x, end.x - start.x), ("Z", along_z, end.z - start.z)):
        if amount and not travel:
            _without_travel(call, axis)
    retract = _retract(call, call.ctx.machine.cycles.peck_retract_mm, "peck retract")
    if groove:
        return cycles.groove(start, end, along_x, along_z, abs(relief), retract)
    return cycles.face_peck(start, end, along_z, along_x, abs(relief), retract)


def _without_travel(call: Call, axis: str) -> None:
    letter = {"X": "IP", "Z": "KQ"}[axis][not call.ins.has("IK")]
    call.ctx.record.unknown(
        canonical([call.ins.words[letter]]),
        f"taken to do nothing: the cycle starts and ends at one place along {axis}",
        call.ctx.block,
    )


@cycle("G90", "G92", "G94", lasts=Lasts.PASSES)
def single(call: Call) -> Expansion | None:
    """G90, G92 and G94: one pass out and back; a block that repeats the cycle keeps the words it does not name."""
    kept: dict[str, Coordinate | int] = call.ctx.modal.cycle.get("single", {})
    goal_x, goal_z = kept.get("x"), kept.get("z")
    point = (
        goal_x if isinstance(goal_x, Coordinate) else call.ctx.modal.x,
        goal_z if isinstance(goal_z, Coordinate) else call.ctx.modal.z,
    )
    if kept and call.ins.code(call.code):
        _repeated_code(call, kept)
    places = dict(zip("XZ", point, strict=True))
    for letter, (axis, relative) in axis_words(call.ctx).items():
        word = call.ins.take(letter)
        if word is not None:
            here = dict(zip("XZ", call.ctx.position(), strict=True))[axis]
            places[axis] = along(call.ctx, word, axis, here, relative=relative)
    letter = "R" if "R" in call.ins.words else ("K" if call.code == "G94" else "I")
    taper = call.amounts.length(letter, "taper")
    if taper is None:
        kept_taper = kept.get("taper", 0)
        taper = kept_taper if isinstance(kept_taper, int) else 0
    call.ctx.modal.cycle["single"] = {"x": places["X"], "z": places["Z"], "taper": taper}
    call.ctx.modal.cycle["single-origin"] = call.ctx.record.origin(
        call.ctx.block, call.ctx.modal.cycle.get("single-origin", -1) if kept else -1
    )
    start = call.start()
    if not (places["X"].known and places["Z"].known):
        raise CycleRefused("", "the cycle ends at a place that is not known here")
    end = Point(places["X"].ticks, places["Z"].ticks)
    if call.code == "G92":
        lead = lead_of(call)
        call.start_angle = start_angle(call.ctx, call.ins)
        return cycles.thread_pass(start, end, taper, lead, pull_out_tenths(call) * lead // 10)
    return (cycles.turning_pass if call.code == "G90" else cycles.facing_pass)(start, end, taper)


def _repeated_code(call: Call, kept: dict[str, Coordinate | int]) -> None:
    """The code again while its cycle is in force: what the block does not name is kept, as if the code were left out."""
    ins = call.ins
    lacking = [name for name, letters in (("X", "XU"), ("Z", "ZW"), ("taper", "RIK")) if not ins.has(letters)]
    if not kept.get("taper"):
        lacking = [name for name in lacking if name != "taper"]
    if lacking:
        call.ctx.record.unknown(
            f"{call.name} again without its {' and '.join(lacking)}",
            "taken to keep what the cycle had before; a control may begin the cycle anew",
            call.ctx.block,
        )
