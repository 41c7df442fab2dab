"""Live tools and the C axis: positions of C, the two modes that cut with it, spindles chosen by P, and codes at which two channels wait.

What is in force is an auxiliary state ("c-axis angle", "interpolation", the name of a spindle), so that it is compared at every move; what is
not simulated is told by name. Words and codes: common practice, no source.
"""

from __future__ import annotations

from fractions import Fraction

from verifier.control.context import Context, has_axis_words
from verifier.control.cycle_registry import Lasts, lasting
from verifier.control.instruction import Instruction, canonical
from verifier.control.numbers import length, speed
from verifier.control.state import Coordinate
from verifier.control.trace import TICKS_PER_MM
from verifier.machines import MCode
from verifier.syntax import Word

ANGLE = "c-axis angle"
INTERPOLATION = "interpolation"
_TURNING = ("G00", "G01", "G02", "G03")
_TAKES_P = ("G04", "G10", "G30", "G54.1", "G65", "G66")
_SENSES = {3: "forward", 4: "reverse", 5: "stopped"}
_START = Coordinate("C before the program", 0)
OTHER_AXES = "CHYVBA"
"""Letters of axes beside X and Z: a lathe's C (H is its increment), Y (V), and B or A of a slide or a swivelling head."""


# -- the C axis ---------------------------------------------------------------------------------------------------------


def turn(ctx: Context, ins: Instruction, motion: str | None) -> bool:
    """C (to an angle) and H (by an angle) of a moving block; whether the block turned the C axis."""
    mode = ctx.modal.auxiliaries.get(INTERPOLATION, "off")
    if motion not in _TURNING or not _means_axis(ctx, ins, motion, mode):
        return False
    words = [word for letter in "CH" if (word := ins.take(letter)) is not None]
    place = here = _angle(ctx)
    for word in words:
        place = _reached(ctx, word, place, linear=mode == "polar")
    ctx.modal.cycle["c-axis"] = list(place)
    if words and "C" not in ctx.machine.axes:
        ctx.record.unknown(canonical(words), "the machine profile has no C axis; it is told as an angle", ctx.block)
    if mode != "off":
        ctx.record.unknown(
            f"{mode} interpolation", "the path over X and C (or C and Z) is told by its ends, not drawn", ctx.block
        )
        _curve(ctx, ins, motion)
    if place != here:
        _tell(ctx, ins, motion, place)
    return True


def _means_axis(ctx: Context, ins: Instruction, motion: str, mode: str) -> bool:
    """Whether C or H is the axis here: without a C axis in the profile a plain C at feed is a chamfer."""
    if not ins.has("CH"):
        return mode != "off" and has_axis_words(ins)
    return "C" in ctx.machine.axes or mode != "off" or motion == "G00" or "H" in ins.words


def _angle(ctx: Context) -> Coordinate:
    base, ticks = ctx.modal.cycle.get("c-axis", _START)
    return Coordinate(base, ticks)


def _reached(ctx: Context, word: Word, here: Coordinate, *, linear: bool) -> Coordinate:
    """Where a word leads the C axis, in hundred-millionths of a degree (of a millimetre in the plane of polar interpolation)."""
    if word.number is None:
        text = canonical([word])
        return here.through(text) if word.letter == "H" else Coordinate(text, 0)
    if linear:
        amount = length(word.number, ctx.units, ctx.machine)
    else:
        thousandths = not word.number.pointed and ctx.machine.choice("number-without-point") == "least-increments"
        if not word.number.pointed and word.number.mantissa:
            ctx.assume("number-without-point")
        amount = round(word.number.value * TICKS_PER_MM / (1000 if thousandths else 1))
    return here.plus(amount) if word.letter == "H" else Coordinate("", amount)


def _tell(ctx: Context, ins: Instruction, motion: str, place: Coordinate) -> None:
    """The new angle as a state for the moves that follow; where nothing else moves, how it turns is part of the event."""
    text = _text(place)
    modal = ctx.modal
    modal.put_auxiliary(ANGLE, text, ctx.record.origin(ctx.block, modal.auxiliary_origin))
    how = "at rapid"
    if motion != "G00":
        how = f"at {modal.values.get('feed')} {modal.values.get('feed_mode')}"
        if modal.values.get("feed_mode") == "per-revolution":
            ctx.record.unknown(
                canonical([ins.words[k] for k in "CH" if k in ins.words]),
                "the C axis turns at a feed per revolution: which spindle's revolutions count is not known here",
                ctx.block,
            )
    ctx.event("auxiliary", f"{ANGLE} {text}" + ("" if has_axis_words(ins) else f" {how}"))


def c_axis_home(ctx: Context, ins: Instruction, which: str) -> bool:
    """C or H of a reference return: the C axis goes to its reference point; whether the block names it."""
    words = [word for letter in "CH" if (word := ins.take(letter)) is not None]
    if words:
        if "C" not in ctx.machine.axes:
            ctx.record.unknown(canonical(words), "the machine profile has no C axis; it is told as an angle", ctx.block)
        _put(ctx, Coordinate(f"C at reference{which}", 0))
    return bool(words)


def turn_for_hole(ctx: Context, ins: Instruction) -> None:
    """C and H of a drilling cycle: the C axis turns to the hole at rapid, H by its angle for every hole."""
    words = [word for letter in "CH" if (word := ins.take(letter)) is not None]
    if not words:
        return
    if "C" not in ctx.machine.axes:
        ctx.record.unknown(canonical(words), "the machine profile has no C axis; it is told as an angle", ctx.block)
    place = _angle(ctx)
    for word in words:
        place = _reached(ctx, word, place, linear=False)
    _put(ctx, place)


def _put(ctx: Context, place: Coordinate) -> None:
    """The C axis at a new place, which is in force for the moves that follow."""
    ctx.modal.cycle["c-axis"] = list(place)
    ctx.put_auxiliary(ANGLE, _text(place))


def _text(place: Coordinate) -> str:
    whole, rest = divmod(abs(place.ticks), TICKS_PER_MM)
    text = f"{'-' if place.ticks < 0 else ''}{whole}.{rest:08d}".rstrip("0").rstrip(".")
    return f"{place.base} {text}" if place.base else text


def _curve(ctx: Context, ins: Instruction, motion: str) -> None:
    """A curve in the plane that C makes with X or Z: its words become a state of this block, for they are none of an arc in X and Z."""
    if motion in ("G02", "G03"):
        words = [word for letter in "RIJK" if (word := ins.take(letter)) is not None]
        ctx.event("auxiliary", f"curve with the C axis {motion} {canonical(words)}".strip())


def straight_only(ctx: Context) -> bool:
    """Whether G02 and G03 are curves over the C axis now, so that X and Z only go straight to their ends."""
    return ctx.modal.auxiliaries.get(INTERPOLATION, "off") != "off"


def interpolation(ctx: Context, ins: Instruction, code: str) -> None:
    """G112, G113 (G12.1, G13.1): polar interpolation on and off; G107 (G07.1): cylindrical with the radius C, off with C0."""
    state = {"G112": "polar", "G12.1": "polar"}.get(code, "off")
    if code in ("G107", "G07.1"):
        word = ins.take("C")
        if word is None or word.number is None:
            ctx.unexecuted(
                f"{code} {canonical([word]) if word else ''}".strip(), "the radius of the cylinder is not known here"
            )
            return
        radius = Fraction(length(word.number, ctx.units, ctx.machine), TICKS_PER_MM)
        state = f"cylindrical {radius}" if radius else "off"
    ctx.put_auxiliary(INTERPOLATION, state)
    ctx.modal.cycle["c-axis"] = ["", 0] if state == "polar" else list(_START.through(f"after {code}"))


# -- spindles -----------------------------------------------------------------------------------------------------------


def chosen_spindle(ctx: Context, ins: Instruction) -> str:
    """The spindle that a P beside S or M03 to M05 chooses: "main" where there is none, "" where the profile does not know it."""
    word = ins.words.get("P")
    speaks = "S" in ins.words or any(code in _SENSES for code, _ in ins.m)
    if word is None or not speaks or "drilling" in ctx.modal.cycle:
        return "main"
    if (
        ins.code(*_TAKES_P)
        or any(code in (98, 99) for code, _ in ins.m)
        or any(lasting(code) in (Lasts.BLOCK, Lasts.HOLES) for code, _ in ins.g)
    ):
        return "main"
    ins.used.add("P")
    number = int(word.number.value) if word.number is not None and word.number.value.denominator == 1 else -1
    return ctx.machine.spindle_selectors.get(number, "")


def other_spindle(ctx: Context, ins: Instruction, name: str) -> None:
    """S and M03 to M05 of a block for another spindle than the main one; of one the profile does not know, nobody can say whose they are."""
    words = [ins.words[k] for k in "SP" if k in ins.words]
    if not name:
        senses = [f"M{code:02d}" for code, _ in ins.m if code in _SENSES]
        text = " ".join((*senses, canonical(words)))
        ctx.record.unknown(text, "which spindle this P chooses is not in the machine profile", ctx.block)
        if "S" in ins.words and not ins.code("G50"):
            ctx.put("speed", f"[{canonical(words)}]")
            ins.used.add("S")
        if senses:
            ctx.put("sense", f"[{text}]")
        return
    word = ins.words.get("S")
    if word is not None and not ins.code("G50"):
        ins.used.add("S")
        mode = "surface" if ins.code("G96") else "rpm"
        value = canonical([word]) if word.number is None else str(speed(word.number, ctx.units, mode))
        ctx.put_auxiliary(f"{name} speed", f"{value} {'m/min' if mode == 'surface' else 'rev/min'}")
    for code, _ in ins.m:
        if code in _SENSES:
            ctx.put_auxiliary(name, _SENSES[code])


def for_main(entry: MCode, chosen: str) -> bool:
    """Whether an M code of a block acts on the main spindle, not on the one that P chose."""
    return chosen == "main" or entry.code not in _SENSES
