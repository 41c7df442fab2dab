"""Threading cycles: their words as amounts, from the program or from the machine profile."""

from __future__ import annotations

from fractions import Fraction

from verifier.control import cycles
from verifier.control.cycle_call import Call
from verifier.control.cycle_registry import cycle
from verifier.control.cycle_words import CycleRefused, needed
from verifier.control.instruction import canonical
from verifier.control.numbers import length, smallest_units
from verifier.control.strokes import Expansion
from verifier.control.thread_moves import start_angle
from verifier.control.trace import TICKS_PER_MM


@cycle("G76")
def multi_thread(call: Call) -> Expansion | None:
    """G76 in the two-block form (P of six digits, Q, R; then X Z R P Q F) or the one-block form (X Z I K D A F)."""
    if not call.ins.has("XUZW"):
        _thread_first_line(call)
        return None
    a, kept = call.amounts, call.first_line()[0]
    infeed, equal = "", False
    start, end = call.start(), call.end()
    if "K" in call.ins.words:
        height, first, taper = a.length("K", "thread height"), a.one_block("D", "first pass"), a.length("I", "taper")
        angle = call.ins.take("A")
        angle_tenths = int(angle.number.value * 10) if angle and angle.number else kept.get("angle-tenths", 0)
        infeed, equal = _infeed_pattern(call)
        call.start_angle = start_angle(call.ctx, call.ins)
    else:
        height, first = a.smallest("P", "thread height"), a.smallest("Q", "first pass")
        taper = a.length("R", "taper")
        angle_tenths = kept["angle-tenths"] if "angle-tenths" in kept else _default_angle(call)
    a.number("angle", Fraction(angle_tenths, 10), "deg")
    rest = _thread_parameters(call, kept)
    lead = lead_of(call)
    a.number("pull-out", Fraction(rest["pull-out-tenths"], 10), "leads")
    return cycles.multi_thread(
        start, end, taper or 0, needed(height, "thread height"), needed(first, "first pass"), rest["minimum"],
        rest["allowance"], rest["finish-passes"], angle_tenths, rest["pull-out-tenths"] * lead // 10, lead,
        infeed or call.ctx.assume("flank-infeed"), equal,
    )  # fmt: skip


_PATTERNS = {
    1: ("single-flank", False),
    2: ("both-flanks", False),
    3: ("single-flank", True),
    4: ("both-flanks", True),
}
"""P of the one-block form: how the tool goes in, and whether by equal depths. From memory; a control without it knows none."""


def _infeed_pattern(call: Call) -> tuple[str, bool]:
    """What P of the one-block form says: "" where nothing is said, for the profile's choice to say."""
    number = call.amounts.whole("P", "infeed pattern")
    if number is None:
        return "", False
    word = canonical([call.ins.words["P"]])
    if number not in _PATTERNS:
        raise CycleRefused("infeed-pattern-unknown", f"{word} names no infeed pattern that is known here", word)
    call.ctx.record.unknown(word, "the infeed patterns 1 to 4 are taken from common practice", call.ctx.block)
    return _PATTERNS[number]


def _thread_first_line(call: Call) -> None:
    code = call.amounts.whole("P", "")
    given: dict[str, int | None] = {}
    if code is not None:
        given = {"finish-passes": code // 10000, "pull-out-tenths": code // 100 % 100, "angle-tenths": code % 100 * 10}
    given["minimum"] = call.amounts.smallest("Q", "minimum pass")
    word = call.ins.take("R")
    if word is not None and word.number is not None:
        plain = not word.number.pointed and call.ctx.assume("thread-r-unit") == "least-increments"
        reader = smallest_units if plain else length
        given["allowance"] = reader(word.number, call.ctx.units, call.ctx.machine)
    call.keep(given)


def _default_angle(call: Call) -> int:
    angle = call.ctx.machine.cycles.thread_angle
    if angle is None:
        raise CycleRefused("", "no thread angle is given, in the program or in the machine profile")
    return int(angle * 10)


def _thread_parameters(call: Call, kept: dict[str, int]) -> dict[str, int]:
    """Minimum pass, allowance, finish passes and pull-out: from the program, else from the profile."""
    parameters = call.ctx.machine.cycles
    pull_out = None if parameters.thread_pull_out_leads is None else int(parameters.thread_pull_out_leads * 10)
    passes = parameters.thread_finish_passes
    found = {
        "minimum": kept.get("minimum"),
        "allowance": kept.get("allowance"),
        "finish-passes": kept.get("finish-passes") or None,
        "pull-out-tenths": kept.get("pull-out-tenths"),
    }
    defaults: dict[str, tuple[str, int | None]] = {
        "minimum": ("minimum pass", _ticks(parameters.thread_min_depth_mm)),
        "allowance": ("finish allowance", _ticks(parameters.thread_finish_allowance_mm)),
        "finish-passes": ("finish passes", passes),
        "pull-out-tenths": ("pull-out", pull_out),
    }
    resolved: dict[str, int] = {}
    for name, (shown, default) in defaults.items():
        value = found[name]
        if value is None:
            value = needed(default, shown)
            if not call.ctx.machine.is_verified("cycle-parameters"):
                call.ctx.record.unknown(
                    f"{shown} of {call.name}", "taken from the machine profile, which nobody verified", call.ctx.block
                )
        resolved[name] = value
    call.amounts.note("minimum pass", resolved["minimum"])
    call.amounts.note("finish allowance", resolved["allowance"])
    call.amounts.number("finish passes", resolved["finish-passes"], "")
    return resolved


def _ticks(value: Fraction | None) -> int | None:
    return None if value is None else round(value * TICKS_PER_MM)


def lead_of(call: Call) -> int:
    """The thread lead in force, in ticks; refused where none is known."""
    lead = call.ctx.modal.values.get("lead")
    if not isinstance(lead, Fraction):
        raise CycleRefused("", "no thread lead F is known here")
    call.amounts.number("lead", lead, "mm")
    return round(lead * TICKS_PER_MM)


def pull_out_tenths(call: Call) -> int:
    """How far before its end a single threading pass pulls out, in tenths of the lead."""
    kept: dict[str, int] = call.ctx.modal.cycle.get("G76", ({}, -1))[0]
    if "pull-out-tenths" in kept:
        return kept["pull-out-tenths"]
    leads = call.ctx.machine.cycles.thread_pull_out_leads
    if leads is None:
        raise CycleRefused(
            "", "the pull-out of the thread is a control parameter that the machine profile does not give"
        )
    if not call.ctx.machine.is_verified("cycle-parameters"):
        reason = "taken from the machine profile, which nobody verified"
        call.ctx.record.unknown(f"pull-out of {call.name}", reason, call.ctx.block)
    return int(leads * 10)
