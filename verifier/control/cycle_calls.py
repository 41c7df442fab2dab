"""Canned cycles as a lathe of code set A is told to make them: words -> amounts -> strokes -> moves."""

from __future__ import annotations

from verifier.control.context import Context
from verifier.control.corner_words import leftover
from verifier.control.cycle_call import Call, Runner
from verifier.control.cycle_play import made_of, play
from verifier.control.cycle_registry import CYCLES, Lasts
from verifier.control.cycle_words import Amounts, CycleRefused
from verifier.control.instruction import Instruction, canonical
from verifier.control.strokes import CycleFault
from verifier.control.trace import TICKS_PER_MM


def carry_out(ctx: Context, ins: Instruction, code: str, runner: Runner) -> int | None:
    """Carry out one cycle block. Returns the block at which execution goes on, or None for the next one."""
    call = Call(ctx, ins, code, Amounts(ctx, ins), runner)
    words = _own_words(ins)
    try:
        expansion = CYCLES[code].carry_out(call)
        if isinstance(expansion, CycleFault):
            raise CycleRefused(expansion.code, expansion.message)
        if expansion is not None:
            play(call, expansion, _behind(call))
    except CycleRefused as refusal:
        _not_expanded(call, words, refusal)
    text = leftover(ctx, ins)
    if text:
        ctx.event("unexecuted", text, certain=False)
    return call.found.resume if call.found is not None else None


def _own_words(ins: Instruction) -> str:
    return canonical([word for letter, word in ins.words.items() if letter not in "NFST"])


def _not_expanded(call: Call, words: str, refusal: CycleRefused) -> None:
    """A cycle that cannot be expanded: an event that equals only the same words, contour and start; the tool is then back at the start."""
    contour = call.runner.contour_text(call.found) if call.found is not None else ""
    kept, _ = call.first_line()
    first = ", ".join(_shown(name, value) for name, value in sorted(kept.items()))
    if refusal.code:
        call.ctx.fault(refusal.code, refusal.reason, refusal.text)
    what = " ".join(filter(None, (call.name, words, f"[{first}]" if first else "", f"<{contour}>" if contour else "")))
    call.ctx.event("unexecuted", what, certain=False, origin=made_of(call, _behind(call)))
    call.ctx.record.unknown(f"{call.name} {words}", refusal.reason, call.ctx.block)
    for letter in call.ins.words:
        call.ins.used.add(letter)


_COUNTS = ("passes", "finish-passes", "pull-out-tenths", "angle-tenths")


def _shown(name: str, value: int) -> str:
    """An amount that a first line left, for people and exact."""
    if name in _COUNTS:
        return f"{name.replace('-', ' ')} {value}"
    whole, part = divmod(abs(value), TICKS_PER_MM)
    digits = f"{whole}.{part:08d}".rstrip("0").rstrip(".")
    return f"{name.replace('-', ' ')} {'-' if value < 0 else ''}{digits} mm"


def _behind(call: Call) -> int:
    """The origin of amounts that the block itself does not give: a first line, or the block whose words a single cycle keeps."""
    if CYCLES[call.code].lasts is Lasts.PASSES:
        kept: int = call.ctx.modal.cycle.get("single-origin", -1)
        return kept
    return call.first_line()[1]
