"""What every code needs while it acts: the machine, the modal state, the recorder, and which block is being executed."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from fractions import Fraction

from verifier.control.compensation.journal import COMPENSATED
from verifier.control.compensation.nose import nose_in_force
from verifier.control.computed import NOT_KNOWN, ComputedWord
from verifier.control.instruction import Instruction, canonical
from verifier.control.numbers import length
from verifier.control.recorder import Recorder
from verifier.control.state import Coordinate, Modal
from verifier.control.strokes import Kind, Point
from verifier.control.trace import TICKS_PER_INCH, TICKS_PER_MM
from verifier.machines import ABSOLUTE, INCREMENTAL, Machine, Setup, code_name, spoken
from verifier.syntax import Word


@dataclass(frozen=True, slots=True)
class Ahead:
    """A block that is still to come: sorted for execution, as moves would be attributed, and the words of blocks without motion before it."""

    ins: Instruction
    block: int
    passed: str


def _nothing_ahead(count: int) -> Ahead | None:
    del count
    return None


@dataclass(slots=True)
class Context:
    """The execution at one block. `block` is what moves are attributed to; `contour` is the origin of a cycle whose contour runs, else -1."""

    machine: Machine
    setup: Setup | None
    modal: Modal
    record: Recorder
    block: int = 0
    caller: int = 0
    governed_by: int = -1
    progress: int = 0
    """Counts what has happened: moves that go somewhere, and events."""
    behind: dict[str, int] = field(default_factory=dict)
    """For letters of this block whose value was computed, the origin of what that value rests on."""
    rests: int = -1
    """The origin of all that this block's values rest on, -1 where they are plain numbers."""
    switched: dict[str, int] = field(default_factory=dict)
    """For spindle and coolant, the progress at which they were last switched."""
    ahead: Callable[[int], Ahead | None] = _nothing_ahead
    """The block that makes the next move (0), the one after it (1) ...; None where there is none or it is not plain."""
    corner: tuple[tuple[Coordinate, Coordinate], tuple[Coordinate, Coordinate]] | None = None
    """The point programmed at a corner that was cut, and where the tool stands behind it: the next block counts from the first."""
    chain: tuple[int, Fraction] | None = None
    """The progress at which the last single threading move ended, and its start angle: what follows at once is one thread with it."""
    apart: str = ""
    """Why the moves being made now are not compensated although compensation is on ("" for moves that are)."""

    @property
    def origin(self) -> int:
        """The origin for what this block sets."""
        return self._on(self.rests)

    def origin_by(self, letter: str) -> int:
        """The origin for what one word of this block sets: the block, and what the word's value rests on."""
        return self._on(self.behind.get(letter, -1))

    def _on(self, behind: int) -> int:
        if behind < 0:
            return self.record.origin(self.block, self.governed_by)
        return self.record.origin(self.block, behind, self.governed_by)

    def together(self, blocks: frozenset[int]) -> int:
        """One origin for values that rest on all of these blocks, in the name of this one; -1 for none."""
        found = -1
        for block in sorted(blocks):
            leaf = self.record.origin(block)
            found = leaf if found < 0 else self.record.origin(self.block, leaf, found)
        return found

    @property
    def units(self) -> str:
        """The unit of length words: "mm" or "inch"."""
        return str(self.modal.values["units"])

    def name(self, code: str) -> str:
        """The code that this machine has for a meaning."""
        return code_name(code, self.machine.code_set)

    def off(self, code: str) -> bool:
        """Whether the code of a meaning is switched off on this machine."""
        return self.name(code) in self.machine.g_codes_off

    def put(self, name: str, value: object) -> None:
        """Set a modal value in the name of this block, and of what the word that gives it rests on."""
        self.modal.put(name, value, self.origin_by(_GIVEN_BY.get(name, "G")))

    def switch(self, name: str, shown: str, state: str) -> None:
        """Put spindle sense or coolant in a state. One that nothing happened in is an event: no move and no stop would show it."""
        before = self.modal.values.get(name)
        if before != state:
            if self.switched.get(name) == self.progress:
                self.event("momentary", f"{shown} {before}")
            self.switched[name] = self.progress
        self.put(name, state)

    def limit(self, clamp: object) -> None:
        """Put the speed clamp. Behind the start of constant surface speed the one before was in force for a moment, and no move would show it."""
        values = self.modal.values
        before, turning = values.get("clamp"), values.get("sense") in ("forward", "reverse")
        started = self.progress in (self.switched.get("sense"), self.switched.get("speed_mode"))
        if started and turning and values.get("speed_mode") == "surface" and before != clamp:
            shown = "no speed clamp" if before is None else f"speed clamp {before} rev/min"
            self.event("momentary", f"{shown} at constant surface speed")
        self.put("clamp", clamp)

    def put_auxiliary(self, name: str, state: str) -> None:
        """Put an auxiliary (chuck, quill ...) in a state, in the name of this block; an event where it was in another one."""
        if self.modal.auxiliaries.get(name) != state:
            self.modal.put_auxiliary(name, state, self.record.origin(self.block, self.modal.auxiliary_origin))
            self.event("auxiliary", f"{name} {state}")

    def assume(self, choice: str) -> str:
        """The value of a profile's choice that matters at this block (see `Recorder.assume`)."""
        return self.record.assume(self.machine, choice, self.block)

    def event(self, kind: str, value: str, *, certain: bool = True, origin: int = -1) -> None:
        """Record an event here, with what is in force; what nobody knows here may cut, so all of it counts there.

        `origin`: who set what it is, where other blocks than this one did too.
        """
        self.progress += 1
        self.record.event(
            kind,
            value,
            self.block,
            self.caller,
            certain=certain,
            origin=self.origin if origin < 0 else origin,
            in_force=self.record.state(self.modal, Kind.RAPID if certain else Kind.FEED),
        )

    def unexecuted(self, what: str, reason: str) -> None:
        """Something is not executed: an event that equals only itself, and an entry among the unchecked."""
        self.event("unexecuted", what, certain=False)
        self.record.unknown(what, reason, self.block)

    def fault(self, code: str, message: str, text: str = "") -> None:
        """Record something wrong at this block."""
        self.record.fault(code, self.block, message, text)

    def radius(self, ticks: int, axis: str = "X") -> int:
        """A programmed amount along an axis as the amount the slide goes: half of it where the axis counts diameters."""
        found = self.machine.axes.get(axis)
        return (
            round(ticks / 2)
            if found and found.diameter and ticks % 2
            else ticks // 2
            if found and found.diameter
            else ticks
        )

    def programmed(self, ticks: int, axis: str) -> int:
        """An amount that the slide goes as it is programmed: twice it where the axis counts diameters."""
        found = self.machine.axes.get(axis)
        return 2 * ticks if found and found.diameter else ticks

    def position(self) -> tuple[Coordinate, Coordinate]:
        """Where the tool is."""
        return self.modal.x, self.modal.z

    def counted_from(self) -> tuple[Coordinate, Coordinate]:
        """The point that increments, centres and lines of the next block count from: where the tool is, but for a corner just cut."""
        if self.corner is not None and self.corner[1] == self.position():
            return self.corner[0]
        return self.position()

    @contextmanager
    def quietly(self) -> Iterator[None]:
        """Look ahead: what is read meanwhile leaves no move, fault or unchecked behind."""
        record, progress = self.record, self.progress
        self.record = Recorder(0, clamp_always=False, dry=True)
        try:
            yield
        finally:
            self.record, self.progress = record, progress

    def travel(
        self,
        kind: Kind,
        end: tuple[Coordinate, Coordinate],
        *,
        origins: tuple[int, int] | None = None,
        centre: Point | None = None,
        step: str = "",
        remark: str = "",
        motion_origin: int | None = None,
    ) -> None:
        """Record a move from here to `end` and be there afterwards."""
        here = self.origin
        ox, oz = origins if origins is not None else (here, here)
        if self.modal.values["compensation"] in COMPENSATED:
            apart = self.apart or ("a thread" if kind is Kind.THREAD else "")
            self.record.journal.move(self.record.count, nose_in_force(self.modal, self.setup), apart)
        self.record.move(
            kind,
            self.position(),
            end,
            in_force=self.record.state(self.modal, kind),
            block=self.block,
            origins=(ox, oz, here if motion_origin is None else motion_origin),
            centre=centre,
            step=step,
            remark=remark,
            caller=self.caller,
        )
        if end != self.position():
            self.progress += 1
        self.modal.x, self.modal.z = end
        self.modal.x_origin, self.modal.z_origin = ox, oz


_GIVEN_BY = {
    "feed": "F", "lead": "F", "speed": "S", "surface_speed": "S", "clamp": "S", "tool": "T", "offset": "T", "sense": "M", "coolant": "M",
    "frame": "",
}  # fmt: skip
"""The letter of the word that gives a modal value; all others are given by G codes."""

FARTHEST = 10**15
"""Ticks (10 km): beyond it no position is computed with."""

_BY_LETTER: dict[str, tuple[str, bool]] = {"X": ("X", False), "U": ("X", True), "Z": ("Z", False), "W": ("Z", True)}
_ABSOLUTE: dict[str, tuple[str, bool]] = {"X": ("X", False), "Z": ("Z", False)}
_INCREMENTAL: dict[str, tuple[str, bool]] = {"X": ("X", True), "Z": ("Z", True)}


def axis_words(ctx: Context, *, absolute: bool = False) -> dict[str, tuple[str, bool]]:
    """Letter -> axis and whether it counts from the current point: by the letter in code set A, by the distance mode in B and C.

    `absolute`: the words of this block are coordinates whatever the mode.
    """
    if ctx.machine.code_set == "A":
        return _BY_LETTER
    mode = ABSOLUTE if absolute else ctx.modal.values.get("distance")
    if mode is None:
        codes = spoken(f"{{{ABSOLUTE}}} or {{{INCREMENTAL}}}", ctx.machine.code_set)
        ctx.fault("distance-not-established", f"neither {codes} is established here: coordinates or increments")
        ctx.record.unknown(codes, "neither is established here; read as coordinates", ctx.block)
    return _INCREMENTAL if mode == INCREMENTAL else _ABSOLUTE


@dataclass(frozen=True, slots=True)
class Target:
    """Where a block's axis words lead: the point, who set each coordinate, and which axes were named."""

    x: Coordinate
    z: Coordinate
    x_origin: int
    z_origin: int
    named: tuple[str, ...]

    @property
    def point(self) -> tuple[Coordinate, Coordinate]:
        """Both coordinates."""
        return self.x, self.z


def along(ctx: Context, word: Word, axis: str, here: Coordinate, *, relative: bool) -> Coordinate:
    """The coordinate that one axis word names."""
    if word.number is None:
        return _along_unknown(ctx, word, axis, here, relative=relative)
    if not word.number.pointed and word.number.mantissa:
        ctx.assume("number-without-point")
    ticks = ctx.radius(length(word.number, ctx.units, ctx.machine), axis)
    place = here.plus(ticks) if relative else Coordinate("", ticks)
    if abs(place.ticks) <= FARTHEST and abs(ticks) <= FARTHEST:
        return place
    text = canonical([word])
    ctx.fault("out-of-reach", f"{word.text} leads farther than any machine reaches", word.text)
    ctx.unexecuted(text, "it leads farther than any machine reaches")
    return Coordinate(f"{axis} out of reach by {text}", 0)


def _along_unknown(ctx: Context, word: Word, axis: str, here: Coordinate, *, relative: bool) -> Coordinate:
    """The coordinate that a word names whose value only the machine knows: the unknown is the base, the number beside it the distance."""
    ctx.record.unknown(canonical([word]), NOT_KNOWN, ctx.block)
    if not isinstance(word, ComputedWord) or word.symbol is None:
        text = canonical([word])
        return here.through(text) if relative else Coordinate(text, 0)
    name = word.symbol.unknown.text + (" inch" if ctx.units == "inch" else "")
    ticks = ctx.radius(round(word.symbol.constant * (TICKS_PER_MM if ctx.units == "mm" else TICKS_PER_INCH)), axis)
    return here.through(name).plus(ticks) if relative else Coordinate(name, ticks)


def target(
    ctx: Context, ins: Instruction, start: tuple[Coordinate, Coordinate] | None = None, *, absolute: bool = False
) -> Target:
    """Read the axis words of a block; increments count from `start` (default: where the tool is)."""
    sx, sz = start or ctx.position()
    at = {"X": (sx, ctx.modal.x_origin), "Z": (sz, ctx.modal.z_origin)}
    named: dict[str, None] = {}
    for letter, (axis, relative) in axis_words(ctx, absolute=absolute).items() if has_axis_words(ins) else ():
        word = ins.take(letter)
        if word is None:
            continue
        named[axis] = None
        place, behind = at[axis]
        rests = ctx.behind.get(letter, -1)
        by = ctx.governed_by if rests < 0 else ctx.origin_by(letter)
        origin = ctx.record.origin(ctx.block, behind, by) if relative else ctx.origin_by(letter)
        at[axis] = (along(ctx, word, axis, place, relative=relative), origin)
    (x, ox), (z, oz) = at["X"], at["Z"]
    return Target(x, z, ox, oz, tuple(named))


def has_axis_words(ins: Instruction) -> bool:
    """Whether the block names a point or a distance along X or Z."""
    return ins.has("XUZW")
