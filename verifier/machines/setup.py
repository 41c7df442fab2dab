"""Setup sheets: a TOML file, checked completely (against its machine, where one is given), turned into a frozen
Setup.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

from verifier.machines.checking import checked
from verifier.machines.edge import UNIT_LENGTH, number
from verifier.machines.frozen import FrozenMap
from verifier.machines.inserts import designated
from verifier.machines.load_file import grip_of, material_of, roughness_of
from verifier.machines.mistakes import Mistake, shown
from verifier.machines.model import Machine
from verifier.machines.reading import content_digest, parse_toml, read_toml
from verifier.machines.setup_file import KeepOutTable, LimitTable, SetupTable, ToolTable, TurretTable, WorkHoldingTable
from verifier.machines.setup_model import KeepOut, Limit, Setup, Stock, Tool, Turret, WorkHolding
from verifier.machines.stock import Beside, OnTheWay, box_around, points_in_mm, raw_piece
from verifier.source import MachineError

_ROTARY = ("B", "C")


def load_setup(path: str | Path, machine: Machine | None) -> Setup:
    """The setup sheet in a file; with a machine, also held against its axes, travels and variables.

    A stock that an earlier operation leaves is read from the file that the sheet names beside itself. MachineError carries every mistake
    of the file.
    """
    return _loaded(Path(path), machine, ())


def _loaded(path: Path, machine: Machine | None, on_the_way: OnTheWay) -> Setup:
    return _setup(read_toml(path), str(path), machine, Beside(path, on_the_way, _loaded))


def parse_setup(data: bytes, label: str, machine: Machine | None) -> Setup:
    """The setup sheet in these bytes, which has no files beside it; MachineError as in `load_setup`."""
    return _setup(parse_toml(data, label), label, machine, None)


def _setup(raw: dict[str, Any], label: str, machine: Machine | None, beside: Beside | None) -> Setup:
    table, mistakes = checked(SetupTable, raw)
    mistakes += _same_number_twice(raw)
    if machine is not None:
        mistakes += _against_machine(raw, machine)
    stock, others = None, list[str]()
    if table is not None and table.stock is not None:
        stock, found, others = raw_piece(table.stock, UNIT_LENGTH[table.units], beside)
        mistakes += found
    if mistakes or others or table is None:
        raise MachineError([*(mistake.line(label) for mistake in mistakes), *others])
    return _built(table, stock)


def _tables(raw: dict[str, Any], key: str) -> dict[str, Any]:
    found = raw.get(key)
    return found if isinstance(found, dict) else {}


def _is_number(key: str) -> bool:
    return key.isascii() and key.isdecimal() and len(key) <= 6


def _same_number_twice(raw: dict[str, Any]) -> Iterator[Mistake]:
    """Keys such as "1" and "01" are different to TOML and the same to a turret."""
    for table in ("tools", "variables"):
        seen: dict[int, str] = {}
        for key in filter(_is_number, _tables(raw, table)):
            if int(key) in seen:
                yield Mistake((table, key), "the same number again", f"one entry, as in {table}.{seen[int(key)]}")
            seen[int(key)] = key


def _against_machine(raw: dict[str, Any], machine: Machine) -> Iterator[Mistake]:
    unit = raw.get("units")
    scale = UNIT_LENGTH[unit] if isinstance(unit, str) and unit in UNIT_LENGTH else None
    for code, offsets in _tables(raw, "work_offsets").items():
        for letter in offsets if isinstance(offsets, dict) else ():
            path = ("work_offsets", code, letter)
            if letter not in machine.axes:
                yield Mistake(path, shown(offsets[letter]), "an axis of this machine: " + ", ".join(machine.axes))
            elif scale is not None:
                yield from _beyond_travel(path, offsets, Fraction(1) if letter in _ROTARY else scale, machine)
    for key in filter(_is_number, _tables(raw, "variables")):
        if machine.variables.kind_of(int(key)) not in ("common", "kept"):
            yield Mistake(("variables", key), f"#{int(key)}", "a common or kept variable of this machine")


def _beyond_travel(
    path: tuple[str, str, str], offsets: dict[str, Any], scale: Fraction, machine: Machine
) -> Iterator[Mistake]:
    axis, given = machine.axes[path[-1]], number(offsets, path[-1])
    if given is None:
        return
    below = axis.minimum is not None and given * scale < axis.minimum
    above = axis.maximum is not None and given * scale > axis.maximum
    if below or above:
        ends = f"{_mm(axis.minimum)} to {_mm(axis.maximum)}"
        yield Mistake(path, shown(offsets[path[-1]]), f"a machine position within the travel, {ends} mm")


def _mm(value: Fraction | None) -> str:
    return "open" if value is None else shown(value)


def _built(table: SetupTable, stock: Stock | None) -> Setup:
    scale = UNIT_LENGTH[table.units]
    setup = Setup(
        name=table.name,
        stock=stock,
        work_holding=_work_holding(table.work_holding, scale) if table.work_holding else None,
        work_offsets=FrozenMap(
            (code, FrozenMap((a, v * (Fraction(1) if a in _ROTARY else scale)) for a, v in sorted(offsets.items())))
            for code, offsets in sorted(table.work_offsets.items())
        ),
        variables=FrozenMap(sorted((int(key), value) for key, value in table.variables.items())),
        tools=FrozenMap((n, _tool(n, table.tools[key], scale)) for n, key in _by_number(table.tools)),
        limits=tuple(_limit(limit, scale) for limit in table.limits),
        digest="",
        other_channel=table.other_channel,
        material=material_of(table.material) if table.material else None,
        roughness=tuple(roughness_of(entry, scale) for entry in table.roughness),
        turret=_turret(table.turret, scale) if table.turret else None,
    )
    return replace(setup, digest=content_digest(setup))


def _by_number(table: dict[str, ToolTable]) -> list[tuple[int, str]]:
    return sorted((int(key), key) for key in table)


def _scaled(value: Fraction | None, scale: Fraction) -> Fraction | None:
    return None if value is None else value * scale


def _zone(z: KeepOutTable, scale: Fraction) -> KeepOut:
    if z.outline is not None:
        outline = points_in_mm(z.outline, scale)
        return KeepOut(z.name, *box_around(outline), z.kind, outline)
    ends = (z.z_from, z.z_to, z.diameter_from, z.diameter_to)
    low, high, inner, outer = (end * scale for end in ends if end is not None)
    return KeepOut(z.name, low, high, inner, outer, z.kind)


def _work_holding(given: WorkHoldingTable, scale: Fraction) -> WorkHolding:
    zones = tuple(_zone(zone, scale) for zone in given.keep_out)
    grip = grip_of(given.grip, scale) if given.grip else None
    return WorkHolding(given.kind, given.max_rpm, given.grips, given.note or "", zones, grip)


def _tool(station: int, given: ToolTable, scale: Fraction) -> Tool:
    nose = _scaled(given.nose_radius, scale)
    named = designated(given.insert) if given.insert is not None else None
    edge, width = _scaled(given.edge_length, scale), _scaled(given.insert_width, scale)
    return Tool(
        station=station,
        kind=given.kind,
        nose_radius=nose if named is None or nose is not None else named.nose_radius,
        orientation=given.orientation,
        blade_width=_scaled(given.blade_width, scale),
        diameter=_scaled(given.diameter, scale),
        point_angle=given.point_angle,
        hand=given.hand,
        mounted=given.mounted,
        max_rpm=given.max_rpm,
        feed_minimum=_scaled(given.feed_minimum, scale),
        offsets=tuple(sorted(set(given.offsets))),
        group=given.group,
        holder=points_in_mm(given.holder or [], scale),
        note=given.note or "",
        insert=given.insert,
        shape=named.shape if named is not None else given.shape,
        edge_length=edge if named is None or edge is not None else named.edge_length,
        approach_angle=given.approach_angle,
        plunges=given.plunges,
        blade_depth=_scaled(given.blade_depth, scale),
        side_clearance=_scaled(given.side_clearance, scale),
        flute_length=_scaled(given.flute_length, scale),
        profile_angle=given.profile_angle,
        shank_diameter=_scaled(given.shank_diameter, scale),
        shank_axis=_scaled(given.shank_axis, scale),
        reach=_scaled(given.reach, scale),
        feed_maximum=_scaled(given.feed_maximum, scale),
        depth_maximum=_scaled(given.depth_maximum, scale),
        force_maximum=given.force_maximum,
        from_turret_axis=_scaled(given.from_turret_axis, scale),
        from_turret_face=_scaled(given.from_turret_face, scale),
        holder_width=_scaled(given.holder_width, scale),
        insert_width=width if named is None or width is not None else named.width,
    )


def _turret(given: TurretTable, scale: Fraction) -> Turret:
    return Turret(given.stations, _scaled(given.swing_radius, scale), _scaled(given.swing_length, scale))


def _limit(given: LimitTable, scale: Fraction) -> Limit:
    return Limit(given.axis, given.nominal * scale, given.upper * scale, given.lower * scale, given.note or "")
