"""Canned cycles as a lathe of code set A is told to make them: words -> amounts -> strokes -> moves."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import Protocol

from verifier.control import cycles
from verifier.control.context import Context, along, target
from verifier.control.cycle_words import Amounts, CycleRefused, needed
from verifier.control.instruction import Instruction, canonical
from verifier.control.motion import leftover
from verifier.control.numbers import length, smallest_units
from verifier.control.state import Coordinate
from verifier.control.strokes import Contour, CycleFault, Expansion, Kind, Pause, Point, Stroke
from verifier.control.trace import TICKS_PER_MM, CycleCall


@dataclass(frozen=True, slots=True)
class Found:
    """A contour as its labels were found: block indices first to last, and the block at which execution goes on."""

    first: int
    last: int
    resume: int


class Runner(Protocol):
    """What the cycles need of the executor: the contour between two labels, dry and for real."""

    def find_contour(self, ctx: Context, first: int, last: int, *, behind: bool) -> Found:
        """Where the labels stand; raises CycleRefused where they do not."""
        ...

    def dry_contour(self, ctx: Context, found: Found) -> Contour:
        """The contour's moves from the present point, without doing them; raises CycleRefused where it cannot be known."""
        ...

    def run_contour(self, ctx: Context, found: Found) -> None:
        """Execute the contour's blocks for real."""
        ...

    def contour_text(self, found: Found) -> str:
        """The contour's words as comparable text."""
        ...


@dataclass(slots=True)
class Call:
    """One cycle block being carried out."""

    ctx: Context
    ins: Instruction
    code: str
    amounts: Amounts
    runner: Runner
    found: Found | None = None

    def first_line(self) -> tuple[dict[str, int], int]:
        """The amounts that the first line of the two-block form left, with the origin that set them."""
        kept: tuple[dict[str, int], int] = self.ctx.modal.cycle.get(self.code, ({}, -1))
        return kept

    def keep(self, given: dict[str, int | None]) -> None:
        """Keep the amounts of a first line; those not given stay as they were."""
        if all(value is None for value in given.values()):
            raise CycleRefused(
                "cycle-amount-missing", f"{self.code} without any of its words does nothing that is known here"
            )
        before, _ = self.first_line()
        self.ctx.modal.cycle[self.code] = (
            before | {name: value for name, value in given.items() if value is not None},
            self.ctx.origin,
        )

    def start(self) -> Point:
        """Where the cycle starts; refused where that is not known."""
        x, z = self.ctx.position()
        if not (x.known and z.known):
            raise CycleRefused("", "the cycle starts at a place that is not known here")
        return Point(x.ticks, z.ticks)

    def end(self) -> Point:
        """The point named by X U Z W."""
        goal = target(self.ctx, self.ins)
        if not (goal.x.known and goal.z.known):
            raise CycleRefused("", "the cycle ends at a place that is not known here")
        for axis, place in zip("XZ", goal.point, strict=True):
            if axis in goal.named:
                self.amounts.note(f"end {axis}", place.ticks * (2 if axis == "X" and self._diameter() else 1))
        return Point(goal.x.ticks, goal.z.ticks)

    def _diameter(self) -> bool:
        axis = self.ctx.machine.axes.get("X")
        return bool(axis and axis.diameter)


def _parameter(value: Fraction | int | None, name: str, call: Call, shown: str) -> int | None:
    """A control parameter in ticks, said to be assumed where nobody verified it."""
    if value is None:
        return None
    if not call.ctx.machine.is_verified("cycle-parameters"):
        call.ctx.record.unknown(
            f"{name} of {call.code}", f"taken from the machine profile ({shown}), which nobody verified", call.ctx.block
        )
    ticks = round(Fraction(value) * TICKS_PER_MM)
    call.amounts.note(name, ticks)
    return ticks


def _mm(value: Fraction | None) -> str:
    return "none" if value is None else f"{float(value):g} mm"


def _retract(call: Call, parameter: Fraction | None, name: str) -> int:
    kept, _ = call.first_line()
    if "retract" in kept:
        call.amounts.note(name, kept["retract"])
        return kept["retract"]
    return needed(_parameter(parameter, name, call, _mm(parameter)), name)


def _contour(call: Call) -> Contour:
    first, last = call.amounts.whole("P", ""), call.amounts.whole("Q", "")
    call.found = call.runner.find_contour(
        call.ctx, needed(first, "first label P"), needed(last, "last label Q"), behind=False
    )
    return call.runner.dry_contour(call.ctx, call.found)


def _rough(call: Call) -> Expansion | None:
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


def _pattern(call: Call) -> Expansion | None:
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


def _peck(call: Call) -> Expansion | None:
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
    retract = _retract(call, call.ctx.machine.cycles.peck_retract_mm, "peck retract")
    if groove:
        return cycles.groove(start, end, along_x, along_z, abs(relief), retract)
    return cycles.face_peck(start, end, along_z, along_x, abs(relief), retract)


def _multi_thread(call: Call) -> Expansion | None:
    """G76 in the two-block form (P of six digits, Q, R; then X Z R P Q F) or the one-block form (X Z I K D A F)."""
    if not call.ins.has("XUZW"):
        _thread_first_line(call)
        return None
    a, kept = call.amounts, call.first_line()[0]
    start, end = call.start(), call.end()
    if "K" in call.ins.words:
        height, first, taper = a.length("K", "thread height"), a.one_block("D", "first pass"), a.length("I", "taper")
        angle = call.ins.take("A")
        angle_tenths = int(angle.number.value * 10) if angle and angle.number else kept.get("angle-tenths", 0)
        pattern = call.ins.take("P")
        if pattern is not None:
            call.ctx.record.unknown(
                canonical([pattern]), "the infeed pattern of the cycle is not modelled", call.ctx.block
            )
    else:
        height, first = a.smallest("P", "thread height"), a.smallest("Q", "first pass")
        taper = a.length("R", "taper")
        angle_tenths = kept["angle-tenths"] if "angle-tenths" in kept else _default_angle(call)
    a.number("angle", Fraction(angle_tenths, 10), "deg")
    rest = _thread_parameters(call, kept)
    lead = _lead(call)
    a.number("pull-out", Fraction(rest["pull-out-tenths"], 10), "leads")
    return cycles.multi_thread(
        start, end, taper or 0, needed(height, "thread height"), needed(first, "first pass"), rest["minimum"],
        rest["allowance"], rest["finish-passes"], angle_tenths, rest["pull-out-tenths"] * lead // 10, lead,
        call.ctx.assume("flank-infeed") == "single-flank",
    )  # fmt: skip


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
                    f"{shown} of G76", "taken from the machine profile, which nobody verified", call.ctx.block
                )
        resolved[name] = value
    call.amounts.note("minimum pass", resolved["minimum"])
    call.amounts.note("finish allowance", resolved["allowance"])
    call.amounts.number("finish passes", resolved["finish-passes"], "")
    return resolved


def _ticks(value: Fraction | None) -> int | None:
    return None if value is None else round(value * TICKS_PER_MM)


def _lead(call: Call) -> int:
    lead = call.ctx.modal.values.get("lead")
    if not isinstance(lead, Fraction):
        raise CycleRefused("", "no thread lead F is known here")
    call.amounts.number("lead", lead, "mm")
    return round(lead * TICKS_PER_MM)


def _single(call: Call) -> Expansion | None:
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
    for letter, axis, relative in (("X", "X", False), ("U", "X", True), ("Z", "Z", False), ("W", "Z", True)):
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
        lead = _lead(call)
        pull_out = _pull_out(call)
        return cycles.thread_pass(start, end, taper, lead, pull_out * lead // 10)
    return (cycles.turning_pass if call.code == "G90" else cycles.facing_pass)(start, end, taper)


def _repeated_code(call: Call, kept: dict[str, Coordinate | int]) -> None:
    """The code again while its cycle is in force: what the block does not name is kept, as if the code were left out."""
    ins = call.ins
    lacking = [name for name, letters in (("X", "XU"), ("Z", "ZW"), ("taper", "RIK")) if not ins.has(letters)]
    if not kept.get("taper"):
        lacking = [name for name in lacking if name != "taper"]
    if lacking:
        call.ctx.record.unknown(
            f"{call.code} again without its {' and '.join(lacking)}",
            "taken to keep what the cycle had before; a control may begin the cycle anew",
            call.ctx.block,
        )


def _pull_out(call: Call) -> int:
    kept: dict[str, int] = call.ctx.modal.cycle.get("G76", ({}, -1))[0]
    if "pull-out-tenths" in kept:
        return kept["pull-out-tenths"]
    leads = call.ctx.machine.cycles.thread_pull_out_leads
    if leads is None:
        raise CycleRefused(
            "", "the pull-out of the thread is a control parameter that the machine profile does not give"
        )
    call.ctx.record.unknown("pull-out of G92", "taken from the machine profile", call.ctx.block)
    return int(leads * 10)


CYCLES: dict[str, Callable[[Call], Expansion | None]] = {
    "G71": _rough,
    "G72": _rough,
    "G73": _pattern,
    "G74": _peck,
    "G75": _peck,
    "G76": _multi_thread,
    "G90": _single,
    "G92": _single,
    "G94": _single,
}
"""Cycle code -> how its words become strokes (None: a first line, nothing moves yet). G70 is below: it runs its contour for real."""


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
                _play(call, expansion)
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
    first = " ".join(f"{name}={value}" for name, value in sorted(kept.items()))
    if refusal.code:
        call.ctx.fault(refusal.code, refusal.reason, refusal.text)
    what = " ".join(filter(None, (call.code, words, f"[{first}]" if first else "", f"<{contour}>" if contour else "")))
    call.ctx.event("unexecuted", what, certain=False)
    call.ctx.record.unknown(f"{call.code} {words}", refusal.reason, call.ctx.block)
    for letter in call.ins.words:
        call.ins.used.add(letter)


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
        call.ctx.modal.x, call.ctx.modal.z = (c.through(f"broken off {call.code}") for c in call.ctx.position())
        raise
    finally:
        call.ctx.modal.put("motion", *motion)
    call.ctx.travel(Kind.RAPID, start, origins=origins, step="return to start")
    call.ctx.record.cycles.append(
        CycleCall(
            call.code, call.ctx.block, dict(call.amounts.named), tuple(range(call.found.first, call.found.last + 1)),
            before, call.ctx.record.count - before, (call.ctx.block,),
        )
    )  # fmt: skip


def _play(call: Call, strokes: tuple[Stroke | Pause, ...]) -> None:
    """Record a cycle's strokes as moves."""
    ctx, record = call.ctx, call.ctx.record
    _, first_line = call.first_line()
    if call.code in ("G90", "G92", "G94"):
        first_line = ctx.modal.cycle.get("single-origin", -1)
    start_origin = record.origin(ctx.block, ctx.modal.x_origin, ctx.modal.z_origin)
    origin = record.origin(ctx.block, first_line, start_origin)
    if ctx.modal.values["compensation"] in ("G41", "G42"):
        ctx.record.unknown(
            f"{call.code} under {ctx.modal.values['compensation']}",
            "the path of the tool nose under compensation is not computed yet",
            ctx.block,
        )
    contour = tuple(range(call.found.first, call.found.last + 1)) if call.found else ()
    for block in contour:
        origin = record.origin(block, origin)
    before = record.count
    keep = (ctx.modal.x_origin, ctx.modal.z_origin)
    for stroke in strokes:
        if isinstance(stroke, Pause):
            ctx.event("dwell", f"{Fraction(stroke.milliseconds, 1000)} s")
            continue
        ctx.travel(
            stroke.kind,
            (Coordinate("", stroke.end.x), Coordinate("", stroke.end.z)),
            origins=(origin, origin),
            centre=stroke.centre,
            step=stroke.step,
            motion_origin=origin,
        )
    ctx.modal.x_origin, ctx.modal.z_origin = keep
    record.mark_ends(before)
    set_by = tuple(dict.fromkeys(b for b in (ctx.block, record.block_of(first_line)) if b >= 0))
    record.cycles.append(
        CycleCall(call.code, ctx.block, dict(call.amounts.named), contour, before, record.count - before, set_by)
    )
