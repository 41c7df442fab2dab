"""A block's own motion: a code that acts once, a cycle, or the motion in force; and codes that nobody here knows."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from verifier.control.codes import GROUP
from verifier.control.compensation.journal import COMPENSATED
from verifier.control.context import Context, has_axis_words, target
from verifier.control.corner_words import names_line
from verifier.control.cycle_call import Runner
from verifier.control.cycle_calls import carry_out
from verifier.control.cycle_registry import Lasts, lasting
from verifier.control.instruction import FOREIGN, Instruction, canonical
from verifier.control.live import interpolation, straight_only, turn
from verifier.control.motion import (
    MOTIONS,
    clamp_or_preset,
    dwell,
    machine_coordinates,
    reference,
    return_from_reference,
)
from verifier.control.offset_writes import local_shift, write_offsets
from verifier.control.thread_moves import THREADS
from verifier.control.units import PROGRAM_NUMBER
from verifier.machines import other_sets

_MOVES = MOTIONS | THREADS

_ONE_SHOTS: dict[str, Callable[[Context, Instruction], None]] = {
    "G04": dwell,
    "G10": write_offsets,
    "G29": return_from_reference,
    "G52": local_shift,
    **{code: partial(interpolation, code=code) for code in ("G107", "G07.1", "G112", "G113", "G12.1", "G13.1")},
    "G28": lambda ctx, ins: reference(ctx, ins, "G28"),
    "G30": lambda ctx, ins: reference(ctx, ins, "G30"),
    "G50": clamp_or_preset,
    "G53": machine_coordinates,
}
_UNCOMPENSATED = ("G28", "G30", "G53")
"""Codes whose moves go to the places they name, whatever side the nose is on (common practice, no source; an error in NISTIR 6556 appendix B)."""


def _is_cycle(code: str) -> bool:
    return lasting(code) in (Lasts.BLOCK, Lasts.HOLES)


def block_motion(ctx: Context, ins: Instruction, runner: Runner) -> int | None:
    """The block's own motion: a code that acts once, a cycle, or the motion in force."""
    unknown = [code for code, _ in ins.g if code not in GROUP or ctx.off(code)]
    if unknown:
        _unknown_g(ctx, ins, unknown)
        return None
    acting = [code for code, _ in reversed(ins.g) if code in _ONE_SHOTS or _is_cycle(code)]
    if acting:  # of two the last counts
        for other in acting[1:]:
            if GROUP[other] != GROUP[acting[0]]:  # of two in one group it is a fault already
                ctx.unexecuted(ctx.name(other), f"it stands beside {ctx.name(acting[0])}, which is taken to count")
        if _is_cycle(acting[0]):
            return carry_out(ctx, ins, acting[0], runner)
        ctx.apart = _apart(ctx, acting[0])
        _ONE_SHOTS[acting[0]](ctx, ins)
        ctx.apart = ""
        return None
    if "drilling" in ctx.modal.cycle:
        if has_axis_words(ins) or ins.has("CHR"):
            return carry_out(ctx, ins, ctx.modal.cycle["drilling"], runner)
        return None
    return _modal_motion(ctx, ins, runner)


def _apart(ctx: Context, code: str) -> str:
    """For a code whose moves leave compensation aside: the code; where compensation is on that is a fault."""
    if code not in _UNCOMPENSATED:
        return ""
    side = ctx.modal.values["compensation"]
    if side in COMPENSATED:
        ctx.fault("reference-under-compensation", f"{code} while {side} is on: the nose leaves its side of the contour")
    return code


def _modal_motion(ctx: Context, ins: Instruction, runner: Runner) -> int | None:
    motion = ctx.modal.values.get("motion")
    turned = turn(ctx, ins, motion)
    open_cycle = (
        lasting(motion) is Lasts.PASSES and "single" in ctx.modal.cycle and not (ins.g or ins.m or has_axis_words(ins))
    )
    repeat = (
        open_cycle
        and bool(ins.words.keys() - {"N", *PROGRAM_NUMBER})
        and ctx.assume("modal-single-cycles") == "every-block"
    )
    if not has_axis_words(ins) and not repeat and (turned or not names_line(ctx, ins)):
        return None
    if motion is not None and lasting(motion) is Lasts.PASSES:
        return carry_out(ctx, ins, motion, runner)
    if motion is None:
        _motion_unknown(ctx, ins)
        return None
    if motion in ("G02", "G03") and straight_only(ctx):
        motion = "G01"
    _MOVES[motion](ctx, ins)
    return None


def _motion_unknown(ctx: Context, ins: Instruction) -> None:
    """Axis words with no motion code established: how the axes travel is not known."""
    text = canonical([ins.words[k] for k in "XUZW" if k in ins.words])
    ctx.fault("motion-not-established", f"{text} moves, but no motion code is established here", text)
    ctx.unexecuted(f"{text} without a motion code", "no G00, G01 or other motion code is established here")
    goal = target(ctx, ins)
    ctx.modal.x, ctx.modal.z = goal.point
    ctx.modal.x_origin, ctx.modal.z_origin = goal.x_origin, goal.z_origin


def _unknown_g(ctx: Context, ins: Instruction, codes: list[str]) -> None:
    """A G code nobody here knows: its whole block is told as it stands, and where it names an axis the place is unknown after it."""
    text = canonical([*(w for _, w in ins.g), *(ins.words[k] for k in ins.words if k not in "NO")])
    off = [ctx.name(code) for code in codes if ctx.off(code)]
    names = [ctx.name(code).removeprefix(FOREIGN) for code in codes]
    for code, name in zip(codes, names, strict=True):
        if code.startswith(FOREIGN):
            ctx.fault(
                "code-of-another-set",
                f"{name} is no code of code set {ctx.machine.code_set}: {_elsewhere(ctx, name)}",
                name,
            )
        else:
            ctx.fault("unknown-code", f"{name or 'a G word'} is not a code that is executed here", name)
    reason = f"{', '.join(off)} is switched off on this machine" if off else f"{', '.join(names)} is not executed"
    if has_axis_words(ins):
        ctx.modal.x, ctx.modal.z = (c.through(text) for c in ctx.position())
        ctx.modal.x_origin = ctx.record.origin(ctx.block, ctx.modal.x_origin)
        ctx.modal.z_origin = ctx.record.origin(ctx.block, ctx.modal.z_origin)
    ins.used.update(ins.words)
    ctx.unexecuted(text, reason)


def _elsewhere(ctx: Context, name: str) -> str:
    """What a code is in the sets that have it: "threading move in set B and C"."""
    found: dict[str, list[str]] = {}
    for code_set, words in other_sets(name, ctx.machine.code_set).items():
        found.setdefault(words, []).append(code_set)
    return "; ".join(f"{words} in set {' and '.join(sets)}" for words, sets in found.items())
