"""One block carried out: modal codes, F, S, T, M codes in their order, and the block's motion."""

from __future__ import annotations

from fractions import Fraction

from verifier.control.block_motion import block_motion
from verifier.control.codes import DRILLING, GROUP, IN_WORDS, MODAL, ONE_SHOT
from verifier.control.context import Context, has_axis_words
from verifier.control.corner_words import leftover
from verifier.control.cycle_call import Runner
from verifier.control.cycle_codes.drilling import CLAMPED, begin_drilling, end_drilling
from verifier.control.cycle_registry import CYCLES, Lasts, lasting
from verifier.control.held import held_text
from verifier.control.instruction import Instruction, canonical, canonical_word, whole
from verifier.control.live import chosen_spindle, for_main, other_spindle
from verifier.control.numbers import feed, lead, speed
from verifier.control.shifts import call_tool, call_work, in_force, refresh, same_geometry
from verifier.control.state import restored
from verifier.machines import MCode
from verifier.syntax import Word

_NOT_COMPUTED = "the value is one that only the machine knows"
_AUXILIARY = {"spindle": "sense", "coolant": "coolant"}


def act(ctx: Context, ins: Instruction, runner: Runner) -> int | None:
    """Carry out everything in a block but its flow codes. Returns where execution goes on if a cycle says so."""
    ins.used.update("NO:")
    contradictions(ctx, ins)
    _modal_codes(ctx, ins)
    chosen = chosen_spindle(ctx, ins)
    if chosen != "main":
        other_spindle(ctx, ins, chosen)
    _spindle_word(ctx, ins)
    _feed_word(ctx, ins)
    _lead_word(ctx, ins)
    _tool_word(ctx, ins)
    timed = [_m_code(ctx, ins, code, word) for code, word in ins.m]
    for when in ("before-motion", "with-motion"):
        for entry in timed:
            if entry is not None and entry.when == when and not _waits_for_hole(ctx, entry) and for_main(entry, chosen):
                apply_m(ctx, entry)
    resume = block_motion(ctx, ins, runner)
    text = leftover(ctx, ins)
    if text:
        ctx.event("unexecuted", text, certain=False)
    for entry in timed:
        if entry is not None and entry.when == "after-motion" and for_main(entry, chosen):
            apply_m(ctx, entry)
    return resume


def _waits_for_hole(ctx: Context, entry: MCode) -> bool:
    """Whether an M code clamps the C axis for a hole: then the cycle does it, once the axis is there."""
    return "drilling" in ctx.modal.cycle and CLAMPED in entry.sets


def contradictions(ctx: Context, ins: Instruction) -> None:
    """Two codes of one group, or one letter twice: a fault; what counts is the profile's choice (the last one)."""
    seen: dict[str, str] = {}
    for code, word in ins.g:
        group = GROUP.get(code)
        if group is None:
            continue
        if group in seen and seen[group] != code:
            ctx.fault(
                "two-codes-of-one-group",
                f"{ctx.name(seen[group])} and {ctx.name(code)} are both of the group: {IN_WORDS[group]}",
                word.text,
            )
            _alarm_choice(ctx, f"{ctx.name(seen[group])} {ctx.name(code)}")
        seen[group] = code
    if len(ins.m) > 1:
        _m_contradictions(ctx, ins)
    for letter in dict.fromkeys(word.letter for word in ins.twice):
        replaced = [word for word in ins.twice if word.letter == letter]
        text = " ".join(word.text for word in (*replaced, ins.words[letter]))
        ctx.fault("word-twice", f"{letter} stands more than once in the block", text)
        _alarm_choice(ctx, f"{letter} twice")
    _axis_contradictions(ctx, ins)


def _axis_contradictions(ctx: Context, ins: Instruction) -> None:
    """One axis named twice in its two ways, or two codes that both want the block's axis words (an error in NISTIR 6556 section 3.4)."""
    contour = any(code in CYCLES and CYCLES[code].contour for code, _ in ins.g)
    for absolute, relative in ("XU", "ZW"):
        if absolute in ins.words and relative in ins.words and not contour:
            text = f"{ins.words[absolute].text} {ins.words[relative].text}"
            ctx.fault("axis-named-twice", f"{text}: both move one axis", text)
            _alarm_choice(ctx, f"{absolute} and {relative}")
    # G28, G30 and G53 beside G00 or G01 are written by habit and agree with it; a dwell or a preset does not move.
    still = next((code for code, _ in ins.g if code in ("G04", "G10", "G50", "G52")), None)
    moving = next((code for code, _ in ins.g if MODAL.get(code, ("",))[0] == "motion"), None)
    if still and moving and has_axis_words(ins):
        text = canonical([ins.words[k] for k in "XUZW" if k in ins.words])
        ctx.fault("axis-words-wanted-twice", f"{ctx.name(still)} and {ctx.name(moving)} both want {text}", text)
        told = f"{ctx.name(moving)} {text} beside {ctx.name(still)}"
        ctx.unexecuted(told, f"taken as words of {ctx.name(still)}; the axes do not move")
        for axis in "xz":
            setattr(ctx.modal, axis, getattr(ctx.modal, axis).through(told))


_STOPS_AND_FLOW = (0, 1, 2, 30, 98, 99)


def _m_contradictions(ctx: Context, ins: Instruction) -> None:
    """Two M codes that set one thing to two states, or two that say where the program goes on.

    Groups of NISTIR 6556 Table 4 (stop; spindle; coolant, where the first and second coolant may both be on), and what the profile's codes set.
    """
    seen: dict[str, tuple[int, str]] = {}
    for code, word in ins.m:
        entry = ctx.machine.m_codes.get(code)
        states = [("the run", str(code))] if code in _STOPS_AND_FLOW else list(entry.sets) if entry else []
        for name, state in states:
            other, before = seen.setdefault(name, (code, state))
            if before == state or {before, state} == {"on", "second-on"}:
                continue
            ctx.fault("two-codes-of-one-group", f"M{other:02d} and M{code:02d} both settle: {name}", word.text)
            _alarm_choice(ctx, f"M{other:02d} M{code:02d}")


def _alarm_choice(ctx: Context, what: str) -> None:
    if ctx.assume("word-twice") == "alarm":
        ctx.unexecuted(f"alarm at {what}", "this control stops with an alarm at such a block")


def _modal_codes(ctx: Context, ins: Instruction) -> None:
    for code, word in ins.g:
        if ctx.off(code) or (
            code not in MODAL and code not in ONE_SHOT and code not in DRILLING and code not in ("G80", "G54.1")
        ):
            continue
        if code == "G80":
            end_drilling(ctx)
        elif code in DRILLING:
            begin_drilling(ctx, code)
        elif code in MODAL:
            _set_modal(ctx, ins, *MODAL[code])
        elif code == "G54.1":
            _more_work_offset(ctx, ins, word)


def _more_work_offset(ctx: Context, ins: Instruction, word: Word) -> None:
    """G54.1 P: one of the further work offsets, by its number."""
    which = ins.take("P")
    number = whole(which) if which is not None else None
    if which is not None and (ins.code(*ONE_SHOT) or any(code in (98, 99) for code, _ in ins.m)):
        ctx.record.unknown(canonical([word, which]), "another code of the block wants the same P", ctx.block)
    if number is None:
        ctx.fault("work-offset-without-number", "G54.1 without a whole number P names no work offset", word.text)
        ctx.unexecuted(canonical([word]), "it names no work offset")
    _set_modal(ctx, ins, "work_offset", "G54.1" + (f"P{number}" if number is not None else "?"))


def _set_modal(ctx: Context, ins: Instruction, name: str, value: str) -> None:
    before = ctx.modal.values.get(name)
    if name == "motion":
        end_drilling(ctx)
        if lasting(value) is Lasts.PASSES and before != value:
            ctx.modal.cycle.pop("single", None)
    ctx.put(name, value)
    if before == value:
        return
    ctx.switched[name] = ctx.progress
    s_word = "S" in ins.words and not ins.code("G50")  # beside G50 the S is the clamp
    if name == "units" and before is not None:
        _other_units(ctx, ins, str(before), s_word=s_word)
    elif name == "work_offset":
        call_work(ctx, before, value)
    elif name == "feed_mode" and "F" not in ins.words:
        _feed_after_mode_change(ctx)
    elif name == "speed_mode" and not s_word:
        _speed_after_mode_change(ctx, value, before)


def _other_units(ctx: Context, ins: Instruction, before: str, *, s_word: bool) -> None:
    """A change of units with a feed or a surface speed in force: whether the control converts the number or reads it anew is not known."""
    stale = {"feed": "F", "lead": "F"} if "F" not in ins.words else {}
    if not s_word:
        stale |= {"surface_speed": "S"} | ({"speed": "S"} if ctx.modal.values.get("speed_mode") == "surface" else {})
    for name, letter in stale.items():
        value = ctx.modal.values.get(name)
        if value is None:
            continue
        back = _given_in(value, letter, str(ctx.modal.values.get("units")))
        if back is not None:
            ctx.put(name, back)  # in its own unit again it is what it was, whichever of the two the control does
            continue
        ctx.put(name, f"{letter} {value} given in {before}")
        ctx.record.unknown(
            f"{letter} after the change of units",
            "whether the control converts it or reads it anew is not known",
            ctx.block,
        )
    if "F" in stale.values():
        ctx.modal.cycle.pop("feed-word", None)


def _given_in(value: object, letter: str, units: str) -> Fraction | str | None:
    """The value that was in force before another unit came, where that was given in `units`."""
    ending = f" given in {units}"
    if not isinstance(value, str) or not value.startswith(f"{letter} ") or not value.endswith(ending):
        return None
    kept = value.removeprefix(f"{letter} ").removesuffix(ending)
    return Fraction(kept) if kept.replace("/", "").isdigit() else kept


def _feed_after_mode_change(ctx: Context) -> None:
    kept: Word | None = ctx.modal.cycle.get("feed-word")
    if kept is None:
        return
    if ctx.assume("feed-after-mode-change") == "must-be-given-again" or kept.number is None:
        if ctx.modal.values.get("feed") is not None:
            ctx.put("feed", None)
        return
    origin = ctx.record.origin(ctx.block, ctx.modal.origins.get("feed", -1))
    ctx.modal.put("feed", feed(kept.number, ctx.units, ctx.modal.values["feed_mode"], ctx.machine), origin)


def _speed_after_mode_change(ctx: Context, mode: str, before: object) -> None:
    """G97 without S keeps the speed of that moment; G96 without S takes the last surface speed."""
    if mode == "surface":
        ctx.put("speed", ctx.modal.values.get("surface_speed"))
        return
    speed_before = ctx.modal.values.get("speed")
    if speed_before is None:
        return
    if before == "surface":
        ctx.put("speed", held_text(speed_before, ctx.modal.x, ctx.modal.values.get("clamp")))
    else:
        # The S came before any speed mode: whether it was a surface speed (then held) or already rev/min is not known here.
        ctx.put("speed", f"S {speed_before} given before the speed mode")


def _spindle_word(ctx: Context, ins: Instruction) -> None:
    if ins.code("G50") or "S" not in ins.words or "S" in ins.used:
        return
    word = ins.take("S")
    assert word is not None
    mode = ctx.modal.values.get("speed_mode")
    if word.number is None:
        ctx.record.unknown(canonical([word]), _NOT_COMPUTED, ctx.block)
        ctx.put("speed", canonical([word]))
        return
    if word.number.mantissa < 0:
        _negative(ctx, word, "spindle speed")
    value = speed(word.number, ctx.units, mode)
    ctx.put("speed", value)
    if mode == "surface":
        ctx.put("surface_speed", value)


def _negative(ctx: Context, word: Word, what: str) -> None:
    ctx.fault("negative-value", f"{word.text}: a {what} below zero", word.text)
    ctx.unexecuted(canonical([word]), f"what a control does with a {what} below zero is not known")


def _feed_word(ctx: Context, ins: Instruction) -> None:
    word = ins.take("F")
    if word is None:
        return
    ctx.modal.cycle["feed-word"] = word
    if word.number is None:
        ctx.record.unknown(canonical([word]), _NOT_COMPUTED, ctx.block)
        ctx.put("feed", canonical([word]))
        ctx.put("lead", canonical([word]))
        return
    if word.number.mantissa < 0:
        _negative(ctx, word, "feed")
    if not word.number.pointed and word.number.mantissa:
        increments = ctx.assume("feed-without-point") == "own-increment"
        if increments and ctx.modal.values["feed_mode"] is None:
            ctx.record.unknown(
                canonical([word]),
                "without a point and without a known feed mode; read as a feed per revolution",
                ctx.block,
            )
    ctx.put("feed", feed(word.number, ctx.units, ctx.modal.values["feed_mode"], ctx.machine))
    ctx.put("lead", lead(word.number, ctx.units, ctx.machine))


_THREADS = ("G32", "G34", "G92")


def _lead_word(ctx: Context, ins: Instruction) -> None:
    """E beside a thread: its lead with more decimals than F has (common practice of older controls, no source)."""
    if "E" not in ins.words or not (ctx.modal.values.get("motion") in _THREADS or ins.code("G76")):
        return
    word = ins.take("E")
    assert word is not None
    ctx.record.unknown(
        canonical([word]),
        "taken to be the lead of the thread; a control without it passes it over, or stops",
        ctx.block,
    )
    ctx.put("lead", canonical([word]) if word.number is None else lead(word.number, ctx.units, ctx.machine))


OFFSET_DIGITS = {"last-two-are-offset": 2, "last-one-is-offset": 1, "last-three-are-offset": 3}
"""By the choice "tool-word", how many of a T word's last digits are the offset."""


def split_tool(text: str, *, with_m06: bool, digits_of_offset: int) -> tuple[int, int | None]:
    """A T word's digits as tool and offset (None: the word names no offset)."""
    digits = text.lstrip("Tt +").split(".")[0]
    if (with_m06 and len(digits) <= 2) or len(digits) <= digits_of_offset:
        return int(digits), None
    return int(digits[:-digits_of_offset]), int(digits[-digits_of_offset:])


def _tool_word(ctx: Context, ins: Instruction) -> None:
    word = ins.take("T")
    if word is None:
        return
    if word.number is None or word.number.pointed or word.number.mantissa < 0:
        ctx.unexecuted(canonical([word]), "this tool word cannot be read")
        return
    size = OFFSET_DIGITS[ctx.assume("tool-word")]
    with_m06 = any(code == 6 for code, _ in ins.m)
    tool, offset = split_tool(word.number.text, with_m06=with_m06, digits_of_offset=size)
    digits = len(word.number.text.lstrip("+"))
    if digits not in ctx.machine.tool_words:
        ctx.record.unknown(word.text, f"a tool word of {digits} digits is not among those of this machine", ctx.block)
    if offset is None:
        ctx.record.unknown(
            word.text, "the tool word names no offset; which one then counts is the control's choice", ctx.block
        )
    before = (ctx.modal.values.get("tool"), ctx.modal.values.get("offset"))
    ctx.put("tool", tool)
    ctx.put("offset", offset)
    if before == (tool, offset) or (before[0] == tool and same_geometry(ctx, before[1], offset)):
        call_tool(ctx)
        refresh(ctx)
    else:
        _other_tool(ctx, before, tool, offset)
    if before == (tool, offset):
        return
    moving = has_axis_words(ins) and ctx.assume("tool-with-motion") == "index-with-motion"
    ctx.event("tool", f"T{tool} offset {offset}" + (" during the move" if moving else ""))


def _other_tool(ctx: Context, before: tuple[object, object], tool: int, offset: int | None) -> None:
    """Another tool or other offsets: the same place has coordinates that differ by what only the machine knows."""
    label = f"T{before[0]}/{before[1]}>T{tool}/{offset}"
    ctx.modal.x, ctx.modal.z = ctx.modal.x.through(f"X {label}"), ctx.modal.z.through(f"Z {label}")
    ctx.modal.x_origin = ctx.record.origin(ctx.block, ctx.modal.x_origin)
    ctx.modal.z_origin = ctx.record.origin(ctx.block, ctx.modal.z_origin)
    call_tool(ctx)
    if ctx.modal.values["frame"] != in_force(ctx):
        ctx.put("frame", in_force(ctx))


def _m_code(ctx: Context, ins: Instruction, code: int, word: Word) -> MCode | None:
    """The profile's entry for an M code; an unknown one is an event of its own."""
    entry = ctx.machine.m_codes.get(code)
    if any(first <= code <= last for first, last in ctx.machine.wait_codes):
        channels = ins.take("P")
        ctx.event("wait", canonical([word, channels] if channels is not None else [word]))
        return None
    if entry is None and code in ctx.machine.label_calls:
        return None  # the order of execution is the flow's business
    if entry is None:
        ctx.event("machine-code", canonical_word(word))
        ctx.record.unknown(canonical_word(word), "what this M code does is not in the machine profile", ctx.block)
        return None
    if code in (5, 9):
        choice = ctx.assume("m-after-motion") if has_axis_words(ins) else ctx.machine.choice("m-after-motion")
        return MCode(code, entry.meaning, entry.weight, f"{choice}-motion", entry.sets)
    return entry


def apply_m(ctx: Context, entry: MCode) -> None:
    """Set what an M code sets; stops and ends are the flow's business."""
    for name, state in entry.sets:
        if name in _AUXILIARY:
            ctx.switch(_AUXILIARY[name], name, state)
        elif ctx.modal.auxiliaries.get(name) != state:
            ctx.put_auxiliary(name, state)
            _meeting(ctx)
    if entry.code not in (0, 1, 2, 30, 98, 99) and not entry.sets:
        ctx.event("machine-code", f"M{entry.code:02d}")
    if entry.code in (0, 1):
        ctx.event("stop" if entry.code == 0 else "optional-stop", f"M{entry.code:02d}")
    if entry.sets and entry.sets[0][0] in _AUXILIARY:
        _meeting(ctx)


def _meeting(ctx: Context) -> None:
    """Pairs of auxiliary states that must never meet, as the profile lists them ("turning" stands for either sense)."""
    sense = ctx.modal.values.get("sense")
    states = {**ctx.modal.auxiliaries, "spindle": sense, "coolant": ctx.modal.values.get("coolant")}
    for one, other in ctx.machine.never_together:
        if _holds(states, one) and _holds(states, other):
            ctx.fault("states-must-not-meet", f"{one[0]} {one[1]} while {other[0]} {other[1]}")


def _holds(states: dict[str, object], wanted: tuple[str, str]) -> bool:
    value = states.get(wanted[0])
    return value == wanted[1] or (wanted[1] == "turning" and value in ("forward", "reverse"))


def end_resets(ctx: Context, code: str) -> None:
    """What a program end puts back, by the profile."""
    groups = ctx.machine.end_resets.get(code, ())
    for name, value in restored(ctx.machine, groups).items():
        ctx.put(name, value)
    if "spindle" in groups:
        ctx.put("sense", "stopped")
    if "coolant" in groups:
        ctx.put("coolant", "off")
