"""Canned cycles as a lathe of code set A is told to make them: words -> amounts -> strokes -> moves."""

from __future__ import annotations

from collections.abc import Callable

from verifier.control.context import Context
from verifier.control.corner_words import leftover
from verifier.control.cycle_call import Call, Found, Runner
from verifier.control.cycle_drilling import HOLES, drilling
from verifier.control.cycle_forms import pattern, peck, rough, single
from verifier.control.cycle_play import play
from verifier.control.cycle_threads import multi_thread
from verifier.control.cycle_words import Amounts, CycleRefused, needed
from verifier.control.instruction import Instruction, canonical
from verifier.control.strokes import CycleFault, Expansion, Kind
from verifier.control.trace import TICKS_PER_MM, CycleCall

CYCLES: dict[str, Callable[[Call], Expansion | None]] = {
    "G71": rough,
    "G72": rough,
    "G73": pattern,
    "G74": peck,
    "G75": peck,
    "G76": multi_thread,
    "G90": single,
    "G92": single,
    "G94": single,
    **dict.fromkeys(HOLES, drilling),
}
"""Cycle code -> how its words become strokes (None: a first line, or strokes played already). G70 is below: it runs its contour for real."""


def carry_out(ctx: Context, ins: Instruction, code: str, runner: Runner) -> int | None:
    """Carry out one cycle block. Returns the block at which execution goes on, or None for the next one."""
    call = Call(ctx, ins, code, Amounts(ctx, ins), runner)
    words = _own_words(ins)
    try:
        if code == "G70":
            _finish(call)
        else:
            expansion = CYCLES[code](call)
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
    call.ctx.event("unexecuted", what, certain=False)
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


def _finish(call: Call) -> None:
    """G70: the contour with its own feeds, then at rapid back to where the cycle was called."""
    first, last = call.amounts.whole("P", ""), call.amounts.whole("Q", "")
    call.ins.used.update("UWDR")  # written by some on the finish line; the finish takes nothing from them
    for letter in "UWDR":
        word = call.ins.words.get(letter)
        if word is not None and word.number is not None and word.number.mantissa:
            call.ctx.record.unknown(
                canonical([word]), "this word on the finish line is taken to do nothing", call.ctx.block
            )
    call.found = call.runner.find_contour(
        call.ctx, needed(first, "first label P"), needed(last, "last label Q"), behind=True
    )
    start, origins = call.ctx.position(), (call.ctx.modal.x_origin, call.ctx.modal.z_origin)
    before = call.ctx.record.count
    motion = call.ctx.modal.values["motion"], call.ctx.modal.origins.get("motion", -1)
    try:
        call.runner.run_contour(call.ctx, call.found)
    except CycleRefused:
        # Part of the contour may have been made; where the control stops or goes on from is not known.
        call.ctx.modal.x, call.ctx.modal.z = (c.through(f"broken off {call.name}") for c in call.ctx.position())
        raise
    finally:
        call.ctx.modal.put("motion", *motion)
    call.ctx.apart = "return to start"
    call.ctx.travel(Kind.RAPID, start, origins=origins, step="return to start")
    call.ctx.apart = ""
    call.ctx.record.cycles.append(
        CycleCall(
            call.code, call.ctx.block, dict(call.amounts.named), tuple(range(call.found.first, call.found.last + 1)),
            before, call.ctx.record.count - before, (call.ctx.block,), call.name,
        )
    )  # fmt: skip


def _behind(call: Call) -> int:
    """The origin of amounts that the block itself does not give: a first line, or the block whose words a single cycle keeps."""
    if call.code in ("G90", "G92", "G94"):
        kept: int = call.ctx.modal.cycle.get("single-origin", -1)
        return kept
    return call.first_line()[1]


__all__ = ["CYCLES", "Call", "Found", "Runner", "carry_out"]
