"""The finishing cycle: the contour run for real, with its own feeds and under nose compensation."""

from __future__ import annotations

from verifier.control.cycle_call import Call
from verifier.control.cycle_registry import cycle
from verifier.control.cycle_words import CycleRefused, needed
from verifier.control.instruction import canonical
from verifier.control.strokes import Kind
from verifier.control.trace import CycleCall


@cycle("G70", contour=True)
def finish(call: Call) -> None:
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
