"""What the cuts ask of tool and spindle and what surface they leave, by sequence and tool: the greatest of each, before and after."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from verifier.findings import Cuts, Place, ProgramView, cuts_of, main_blocks, ra_of
from verifier.geometry import Load
from verifier.machines import Machine, Setup

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class LoadAmount:
    """One quantity: its greatest before and after, with unit (None: not there, or not known), and where that is (in the new program, else
    the old).
    """

    name: str
    before: str | None
    after: str | None
    place: Place | None

    @property
    def changed(self) -> bool:
        """Whether it is shown as another amount."""
        return self.before != self.after


@dataclass(frozen=True, slots=True)
class LoadRow:
    """The cuts of one tool in one sequence."""

    label: str
    tool: int
    amounts: tuple[LoadAmount, ...]


@dataclass(frozen=True, slots=True)
class LoadReport:
    """Load and surface: the material (None: not given), the spindle's power in words, the rows, and what the figures assume."""

    material: str | None
    spindle: str | None
    sequences: tuple[LoadRow, ...]
    assumptions: tuple[str, ...]


def load_report(old: ProgramView | None, new: ProgramView) -> LoadReport | None:
    """Load and surface with the block skips off; None where one side has no part."""
    after, before = _Side.of(new), _Side.of(old) if old is not None else None
    if after is None or (old is not None and before is None):
        return None
    setup = new.side.setup
    assert setup is not None
    rows = _alone(after) if before is None else _matched(before, after)
    return LoadReport(_material(setup), _spindle(new.machine), tuple(rows), tuple(_assumptions(setup, new.machine)))


@dataclass(frozen=True, slots=True)
class _Side:
    view: ProgramView
    load: Load
    cuts: dict[str, Cuts]

    @staticmethod
    def of(view: ProgramView) -> _Side | None:
        load = view.side.load()
        return None if load is None else _Side(view, load, {cuts.key: cuts for cuts in cuts_of(view, load)})


def _alone(after: _Side) -> Iterator[LoadRow]:
    for cuts in after.cuts.values():
        yield _row(_label(None, cuts), None, None, after, cuts)


def _matched(before: _Side, after: _Side) -> Iterator[LoadRow]:
    for key, cuts in after.cuts.items():
        was = before.cuts.get(key)
        yield _row(_label(was, cuts), before, was, after, cuts)
    for key, was in before.cuts.items():
        if key not in after.cuts:
            yield _row(_label(was, None), before, was, after, None)


def _label(was: Cuts | None, now: Cuts | None) -> str:
    names = [
        cuts.sequence.label if cuts.sequence is not None else "outside all sequences" for cuts in (was, now) if cuts
    ]
    return names[0] if len(set(names)) == 1 else f"{names[0]}, now {names[1]}"


def _row(label: str, before: _Side | None, was: Cuts | None, after: _Side, now: Cuts | None) -> LoadRow:
    some = now or was
    assert some is not None
    units = after.view.units
    threads = some.tool.kind == "threading"
    amounts = []
    for name, values, shown in _QUANTITIES:
        old = _greatest(before, was, values)
        new = _greatest(after, now, values)
        at = new or old
        if at is None:
            continue
        told = _IN_THREADS.get(name, name) if threads else name
        shows = [shown(found[0], units) if found is not None else None for found in (old, new)]
        amounts.append(LoadAmount(told, shows[0], shows[1], at[1]))
    return LoadRow(label, some.tool.station, tuple(amounts))


def _greatest(side: _Side | None, cuts: Cuts | None, values: Callable[[Load], Floats]) -> tuple[float, Place] | None:
    """The greatest known amount of some cuts, and its place; None where there is none. What is not known is told as a gap of the part."""
    if side is None or cuts is None:
        return None
    amounts = values(side.load)[cuts.rows]
    known = ~np.isnan(amounts) & (amounts > 0)
    if not known.any():
        return None
    # Of amounts that only the rounding of floats tells apart, the first.
    row = int(cuts.rows[np.argmax(np.where(known, np.round(amounts, 9), -1.0))])
    return float(amounts[known].max()), side.view.place(int(main_blocks(side.view.trace)[row]))


# -- quantities -----------------------------------------------------------------------------------------------------------


def _in(places: int, unit: str) -> Callable[[float, str], str]:
    return lambda value, units: f"{value:.{places}f} {unit}"


def _length(places: int) -> Callable[[float, str], str]:
    return lambda value, units: f"{value / 25.4:.{places + 1}f} in" if units == "inch" else f"{value:.{places}f} mm"


def _surface_speed(value: float, units: str) -> str:
    return f"{value / 0.3048:.0f} ft/min" if units == "inch" else f"{value:.0f} m/min"


def _roughness(value: float, units: str) -> str:
    return f"{value / 0.0254:.0f} µin" if units == "inch" else f"{value:.2f} µm"


def _both(name: str) -> Callable[[Load], Floats]:
    def values(load: Load) -> Floats:
        found: Floats = getattr(load, name).max(axis=1)
        return found

    return values


_QUANTITIES: tuple[tuple[str, Callable[[Load], Floats], Callable[[float, str], str]], ...] = (
    ("power", _both("power"), _in(2, "kW")),
    ("torque", _both("torque"), _in(1, "N m")),
    ("force", _both("force"), _in(0, "N")),
    ("depth of cut", lambda load: load.depth, _length(2)),
    ("swarf section", _both("section"), _in(3, "mm2")),
    ("swarf thickness", _both("thickness"), _length(3)),
    ("cutting speed", _both("cutting_speed"), _surface_speed),
    ("spindle speed", _both("speed"), _in(0, "rev/min")),
    ("roughness Rt", lambda load: load.roughness, _roughness),
    ("roughness Ra", ra_of, _roughness),
)
"""What is told, in this order: its name, its column, and how it is shown."""

_IN_THREADS = {"depth of cut": "infeed of a pass", "swarf section": "section of a pass"}


def _material(setup: Setup) -> str | None:
    given = setup.material
    if given is None:
        return None
    values = f"kc1.1 {float(given.kc11):g} N/mm2, mc {float(given.mc):g}"
    return f"{given.designation} ({values})" if given.designation else values


def _spindle(machine: Machine) -> str | None:
    spindle = machine.spindle
    told = []
    if spindle.power_kw is not None:
        told.append(f"{float(spindle.power_kw):g} kW")
    if spindle.efficiency is not None:
        told.append(f"of which {float(spindle.efficiency) * 100:g} % arrive at the cut")
    if spindle.base_rpm is not None:
        told.append(f"in full from {float(spindle.base_rpm):g} rev/min")
    if spindle.torque_nm is not None:
        told.append(f"{float(spindle.torque_nm):g} N m at most")
    return ", ".join(told) or None


def _assumptions(setup: Setup, machine: Machine) -> Iterator[str]:
    if setup.material is not None:
        yield "force and power by Kienzle for a sharp edge; a worn one needs up to half as much again"
    yield "a depth of cut is the mean over half a millimetre of the way, where it is greatest; along an arc the mean of all of it"
    yield "roughness is what feed and nose alone leave on the surfaces of the finished part; the true one is rougher"
    if setup.material is not None and machine.spindle.power_kw is not None and not machine.is_verified("spindle"):
        yield "nobody verified the spindle's power at the machine"
