"""Shifts of the coordinates that the program itself makes: presets, the local shift, and offsets that it writes.

Each shift is kept by name, and what is in force together is `frame` of the state: where a program says X40, the tool goes to 40 and the frame
on top. A shift that the program gave whole (a work offset written as a value) has a base, "by program", since what it replaces only the machine
knows; one that it only moved (an increment, G52, a preset) has none.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from types import MappingProxyType

from verifier.control.context import Context
from verifier.control.state import Coordinate, joined
from verifier.control.trace import TICKS_PER_MM

Shift = tuple[Coordinate, Coordinate]

BY_PROGRAM = "by program"
NOTHING: Shift = (Coordinate("", 0), Coordinate("", 0))
_NONE: Mapping[str, Shift] = MappingProxyType({})


def shift(ctx: Context, name: str) -> Shift:
    """One shift by its name ("preset", "local", "external", "work G54", "wear 1", "geometry 1"), as the program left it."""
    found: Shift = ctx.modal.cycle.get("shifts", _NONE).get(name, NOTHING)
    return found


def keep(ctx: Context, name: str, value: Shift) -> None:
    """Keep a shift under its name; `refresh` puts it in force."""
    ctx.modal.cycle["shifts"] = {**ctx.modal.cycle.get("shifts", _NONE), name: value}


def tool_shift(ctx: Context) -> Shift:
    """What the program wrote of the offsets of the tool word in force: geometry and wear together."""
    tool, offset = ctx.modal.values.get("tool"), ctx.modal.values.get("offset")
    if not isinstance(offset, int) or offset == 0:
        return NOTHING
    written = ctx.modal.cycle.get("shifts", _NONE)
    matters = tool != offset and any(f"geometry {number}" in written for number in (tool, offset))
    choice = ctx.assume("geometry-offset") if matters else ctx.machine.choice("geometry-offset")
    geometry = tool if choice == "by-tool-number" else offset
    return _sum([shift(ctx, f"geometry {geometry}"), shift(ctx, f"wear {offset}")])


def zero_of(ctx: Context, name: str, axis: str) -> int | None:
    """The value of an offset in ticks, where the program wrote it or the setup sheet gives it ("work G54", and what was added since)."""
    now = shift(ctx, name)["XZ".index(axis)]
    if now.base.endswith(BY_PROGRAM):
        return now.ticks
    sheet = ctx.setup.work_offsets.get(name.removeprefix("work "), {}) if ctx.setup is not None else {}
    value: Fraction | None = sheet.get(axis)
    return None if value is None or now.base else ctx.radius(round(value * TICKS_PER_MM), axis) + now.ticks


def call_work(ctx: Context, before: object, after: str) -> None:
    """Another work offset: the same place has other coordinates; by how much the setup sheet or the program may say."""
    for axis in "XZ":
        old, new = zero_of(ctx, f"work {before}", axis), zero_of(ctx, f"work {after}", axis)
        if old is not None and new is not None:
            _seen(ctx, axis, by=old - new)
        else:
            _seen(ctx, axis, f"{axis} {before}>{after}")
    ctx.put("frame", in_force(ctx))


def same_geometry(ctx: Context, before: object, after: object) -> bool:
    """Whether two offsets of one tool differ only in wear that the program wrote, so that it is known by how much."""
    if not (isinstance(before, int) and isinstance(after, int) and before and after):
        return False
    pairs = zip(shift(ctx, f"wear {before}"), shift(ctx, f"wear {after}"), strict=True)
    written = all(old.base == new.base and old.base.endswith(BY_PROGRAM) for old, new in pairs)
    return written and ctx.assume("geometry-offset") == "by-tool-number"


def call_tool(ctx: Context) -> None:
    """Take over the offsets of the tool word in force as they are written now; `refresh` puts them in force."""
    called = tool_shift(ctx)
    if called != NOTHING or "tool-shift" in ctx.modal.cycle:
        ctx.modal.cycle["tool-shift"] = list(called)


def in_force(ctx: Context) -> tuple[str, int, str, int]:
    """All shifts that count now, together, as the frame of the state."""
    called = tuple(ctx.modal.cycle.get("tool-shift", NOTHING))
    work = ctx.modal.values.get("work_offset")
    x, z = _sum([shift(ctx, "preset"), shift(ctx, "local"), shift(ctx, "external"), shift(ctx, f"work {work}"), called])
    return (*x, *z)


def _sum(shifts: list[Shift]) -> Shift:
    total = list(NOTHING)
    for one in shifts:
        for k, part in enumerate(one):
            base = joined(total[k].base, part.base) if part.base else total[k].base
            total[k] = Coordinate(base, total[k].ticks + part.ticks)
    return total[0], total[1]


def refresh(ctx: Context, zero_moved: Mapping[str, int] = MappingProxyType({})) -> None:
    """Put the shifts in force: the tool stays where it is, so its coordinates change by as much as the frame does.

    `zero_moved`: axes for which it is known by how many ticks (radius for X) the zero point moved although the frame cannot tell.
    """
    before, after = ctx.modal.values["frame"], in_force(ctx)
    if before == after and not zero_moved:
        return
    ctx.put("frame", after)
    for k, axis in enumerate("XZ"):
        bases = before[2 * k], after[2 * k]
        moved = zero_moved.get(axis, after[2 * k + 1] - before[2 * k + 1])
        if axis not in zero_moved and bases[0] != bases[1]:
            label = f"{axis} shift {bases[0] or 'of the machine'}>{bases[1] or 'of the machine'}"
            _seen(ctx, axis, label)
        if moved:
            _seen(ctx, axis, by=-moved)


def _seen(ctx: Context, axis: str, label: str = "", by: int = 0) -> None:
    """The tool's coordinate along an axis as it is after a shift that this block made: by so many ticks, or by an unknown amount (`label`)."""
    modal, origin = ctx.modal, ctx.record.origin
    place = (modal.x if axis == "X" else modal.z).plus(by)
    place = place.through(label) if label else place
    if axis == "X":
        modal.x, modal.x_origin = place, origin(ctx.block, modal.x_origin)
    else:
        modal.z, modal.z_origin = place, origin(ctx.block, modal.z_origin)
