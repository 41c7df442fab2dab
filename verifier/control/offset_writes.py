"""G10: the program writes offsets itself, and G52: it shifts the coordinates of the job.

Forms as lathes of this kind have them (common practice, no source): without L, P names a tool offset (wear; from 10001 on geometry) or, as P0,
the work shift; L2 writes work offsets (P0 the external one, P1 to P6), L20 the further ones, L10 and L11 geometry and wear, L12 and L13 the nose
radius of both. X and Z are values, U and W are added; R is the nose radius (C adds to it), Q its direction.
"""

from __future__ import annotations

from dataclasses import dataclass

from verifier.control.context import Context, along, axis_words, has_axis_words
from verifier.control.instruction import Instruction, canonical, whole
from verifier.control.numbers import length
from verifier.control.shifts import BY_PROGRAM, call_tool, keep, refresh, shift, zero_of
from verifier.control.state import Coordinate, Modal
from verifier.control.trace import TICKS_PER_MM

_GEOMETRY = 10_000
_KINDS = {10: "geometry", 11: "wear", 12: "geometry", 13: "wear"}


@dataclass(frozen=True, slots=True)
class _Place:
    """What a G10 block writes: the name of the shift, and for a tool offset its number and which part of it."""

    name: str
    part: str = ""
    number: int = 0


def write_offsets(ctx: Context, ins: Instruction) -> None:
    """One G10 block: an event with the values written, and the shift they make for the moves that follow."""
    text = canonical([ins.words[k] for k in ins.words if k not in "NO"])
    place = _place(ctx, ins)
    if place is None:
        ins.used.update(ins.words)
        ctx.unexecuted(f"G10 {text}".strip(), "what this form of G10 writes is not known here")
        if has_axis_words(ins):
            lost = tuple(part.through(f"G10 {text}") for part in shift(ctx, "external"))
            keep(ctx, "external", (lost[0], lost[1]))
            refresh(ctx)
        return
    written = [*_lengths(ctx, ins, place), *_nose(ctx, ins, place)]
    if not written:
        ctx.fault("offset-write-without-value", "G10 writes no value that is known here", "G10")
        ctx.unexecuted(f"G10 {text}".strip(), "it writes no value that is known here")
        return
    ctx.event("offset-write", f"{place.name} {' '.join(written)}")


def _place(ctx: Context, ins: Instruction) -> _Place | None:
    level, number = (ins.take(letter) for letter in "LP")
    kind, which = (whole(word) if word is not None else None for word in (level, number))
    if which is None or (level is not None and kind is None):
        if number is None:
            ctx.fault("offset-write-without-value", "G10 without P names no offset", "G10")
        return None
    if level is None:
        if which == 0:
            return _Place("external")
        part, n = ("geometry", which - _GEOMETRY) if which > _GEOMETRY else ("wear", which)
        return _Place(f"{part} {n}", part, n)
    if kind in _KINDS:
        return _Place(f"{_KINDS[kind]} {which}", _KINDS[kind], which)
    if kind == 2 and 0 <= which <= 6:
        return _Place(f"work G{53 + which}" if which else "external")
    return _Place(f"work G54.1P{which}") if kind == 20 else None


def _lengths(ctx: Context, ins: Instruction, place: _Place) -> list[str]:
    """The lengths written, as text; they are kept as a shift and put in force where they count at once."""
    parts = list(shift(ctx, place.name))
    told: list[str] = []
    moved: dict[str, int] = {}
    for letter, (axis, relative) in axis_words(ctx).items():
        word = ins.take(letter)
        if word is None:
            continue
        k = "XZ".index(axis)
        amount = along(ctx, word, axis, Coordinate("", 0), relative=relative)
        told.append(f"{axis}{' by ' if relative else '='}{_decimal(ctx, axis, amount)}")
        if relative:
            parts[k] = Coordinate(f"{parts[k].base}|{amount.base}".strip("|"), parts[k].ticks + amount.ticks)
            continue
        before = zero_of(ctx, place.name, axis)
        if before is not None and amount.known:
            moved[axis] = amount.ticks - before
        parts[k] = Coordinate(f"{axis} {place.part or 'offset'} {BY_PROGRAM}|{amount.base}".rstrip("|"), amount.ticks)
    if told:
        keep(ctx, place.name, (parts[0], parts[1]))
        _take_effect(ctx, place, moved)
    return told


def _take_effect(ctx: Context, place: _Place, moved: dict[str, int]) -> None:
    """A work offset counts at once; a tool offset when the profile says, and only if it is the one in force."""
    if not place.part:
        active = place.name in ("external", f"work {ctx.modal.values.get('work_offset')}")
        refresh(ctx, moved if active else {})
        return
    if _concerns(ctx, place) and ctx.assume("offset-write-counts") == "at-once":
        call_tool(ctx)
        refresh(ctx, moved)


def _concerns(ctx: Context, place: _Place) -> bool:
    tool, offset = ctx.modal.values.get("tool"), ctx.modal.values.get("offset")
    by_tool = place.part == "geometry" and ctx.assume("geometry-offset") == "by-tool-number"
    return offset != 0 and place.number == (tool if by_tool else offset)


def _nose(ctx: Context, ins: Instruction, place: _Place) -> list[str]:
    """Nose radius and direction written for a tool offset: kept for compensation, geometry and wear of the radius added up."""
    told: list[str] = []
    if not place.part:
        return told
    radii: dict[tuple[str, int], int | None] = ctx.modal.cycle.get("nose-radii", {})
    key = (place.part, place.number)
    for letter in "RC":
        word = ins.take(letter)
        if word is None:
            continue
        ticks = None if word.number is None else length(word.number, ctx.units, ctx.machine)
        before = radii.get(key, 0) if letter == "C" else 0
        radii = {**radii, key: None if ticks is None or before is None else before + ticks}
        value = canonical([word]) if ticks is None else _decimal(ctx, "Z", Coordinate("", ticks))
        told.append(f"nose radius{' by ' if letter == 'C' else '='}{value}")
    word = ins.take("Q")
    direction = whole(word) if word is not None else None
    if word is not None:
        told.append(f"nose direction={canonical([word])[1:]}")
        if direction not in range(10):
            ctx.fault("nose-direction-wrong", f"{word.text}: a nose direction is a whole number from 0 to 9", word.text)
            direction = None
    if told:
        ctx.modal.cycle["nose-radii"] = radii
        _nose_kept(ctx, place, radii, direction)
    return told


def _nose_kept(ctx: Context, place: _Place, radii: dict[tuple[str, int], int | None], direction: int | None) -> None:
    parts = [radii.get((part, place.number)) for part in ("geometry", "wear") if (part, place.number) in radii]
    known = [part for part in parts if part is not None]
    radius = sum(known) if parts and len(known) == len(parts) else None
    if parts and radius is None:
        ctx.record.unknown(
            f"nose radius of offset {place.number}", "its value is one that only the machine knows", ctx.block
        )
    write_nose(ctx.modal, place.number, radius=radius, orientation=direction, origin=ctx.origin)


def _decimal(ctx: Context, axis: str, amount: Coordinate) -> str:
    """An amount in mm as it is programmed (a diameter where the axis counts those), exactly."""
    ticks = ctx.programmed(amount.ticks, axis)
    units, rest = divmod(abs(ticks), TICKS_PER_MM)
    text = f"{'-' if ticks < 0 else ''}{units}.{rest:08d}".rstrip("0").rstrip(".")
    return f"{amount.base} {text}" if amount.base else text


def local_shift(ctx: Context, ins: Instruction) -> None:
    """G52: the zero point of the job shifted by X and Z from that of the work offset; X0 Z0 takes it back."""
    parts = list(shift(ctx, "local"))
    named = False
    for letter, (axis, relative) in axis_words(ctx, absolute=True).items():
        word = ins.take(letter)
        if word is None:
            continue
        named = True
        k = "XZ".index(axis)
        if relative:
            ctx.record.unknown(f"G52 {canonical([word])}", "taken to be added to the local shift", ctx.block)
        amount = along(ctx, word, axis, parts[k], relative=relative)
        parts[k] = amount
    if not named:
        ctx.unexecuted("G52 without an axis", "a local shift that names neither X nor Z")
        return
    keep(ctx, "local", (parts[0], parts[1]))
    refresh(ctx)


def write_nose(
    modal: Modal, offset: int, *, radius: int | None = None, orientation: int | None = None, origin: int
) -> None:
    """Keep a nose radius (ticks), a direction number or both for a tool offset: compensation takes them before the setup sheet's."""
    before = modal.cycle.get("nose", {})
    old_radius, old_orientation = before.get(offset, (None, None))
    entry = (old_radius if radius is None else radius, old_orientation if orientation is None else orientation)
    modal.cycle["nose"] = {**before, offset: entry}
    modal.origins[f"nose {offset}"] = origin
