"""What cuts ask for, gathered by sequence and tool: one hazard for each, at its heaviest cut, with what the other side of a change has there."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from verifier.control import Sequence
from verifier.findings.spells import main_blocks, sequence_numbers
from verifier.findings.view import Hazard, ProgramView
from verifier.geometry import RA_SHARE, Load
from verifier.machines import Roughness, Setup, Tool

Floats = NDArray[np.float64]
Rows = NDArray[np.int64]

_NEAR_SIZE = 0.5
"""A surface is the one that a roughness names where it lies within so many mm of the nominal size; of several it is the nearest."""


@dataclass(frozen=True, slots=True)
class Cuts:
    """The cuts of one tool in one sequence (None: outside all); `nth` counts the tool's sequences from 1."""

    tool: Tool
    nth: int
    sequence: Sequence | None
    rows: Rows

    @property
    def key(self) -> str:
        """What makes them the same cuts in another revision."""
        return f"T{self.tool.station} {self.nth}"

    @property
    def where(self) -> str:
        """The tool and its sequence, in words."""
        return (
            f"T{self.tool.station} in {self.sequence.label}" if self.sequence is not None else f"T{self.tool.station}"
        )


def cuts_of(program: ProgramView, load: Load) -> list[Cuts]:
    """Every move that takes something off or leaves finished surface, by sequence and tool, in order."""
    setup, trace = program.side.setup, program.trace
    rows = np.flatnonzero(load.cuts | load.finishes)
    if setup is None or not len(rows):
        return []
    owner = sequence_numbers(program, main_blocks(trace)[rows])
    stations = np.array([s.tool if isinstance(s.tool, int) else -1 for s in trace.states])[trace.moves.state[rows]]
    found: list[Cuts] = []
    counts: dict[int, int] = {}
    for index, station in dict.fromkeys(zip(owner.tolist(), stations.tolist(), strict=True)):
        tool = setup.tools.get(station)
        if tool is None:
            continue
        counts[station] = counts.get(station, 0) + 1
        which = rows[(owner == index) & (stations == station)]
        found.append(Cuts(tool, counts[station], program.sequences[index] if index >= 0 else None, which))
    return found


@dataclass(frozen=True, slots=True)
class Worst:
    """The heaviest of some cuts: the move, its amount, and all the moves that are too heavy."""

    cuts: Cuts
    row: int
    amount: float
    over: Rows


def worst_of(cuts: Cuts, amounts: Floats, limits: Floats | float) -> Worst | None:
    """The cut that is the most over its limit, as a share of it; None where none is. What is not known is over nothing."""
    values, most = amounts[cuts.rows], np.broadcast_to(limits, amounts.shape)[cuts.rows]
    with np.errstate(invalid="ignore"):
        share = np.where(most > 0, values / np.where(most > 0, most, 1.0), np.nan)
        over = np.flatnonzero(share > 1 + 1e-9)
    if not len(over):
        return None
    k = int(over[np.argmax(share[over])])
    return Worst(cuts, int(cuts.rows[k]), float(values[k]), cuts.rows[over])


def greatest(program: ProgramView, key: str, amounts: Floats) -> float | None:
    """The greatest amount of the cuts with a key in a program; None where there are none, or it is not known."""
    load = program.side.load()
    for cuts in cuts_of(program, load) if load is not None else ():
        if cuts.key == key:
            known = amounts[cuts.rows]
            known = known[~np.isnan(known)]
            return float(known.max()) if len(known) else None
    return None


def hazard(program: ProgramView, worst: Worst, title: str, kind: str, after: str) -> Hazard:
    """The hazard at the heaviest of some cuts."""
    trace = program.trace
    home = main_blocks(trace)
    step = trace.steps[int(trace.moves.step[worst.row])]
    blocks = tuple(dict.fromkeys(home[worst.over].tolist()))
    return Hazard(
        int(home[worst.row]), title + (f" ({step})" if step else ""), f"{worst.cuts.key} {kind}", after=after, effects=blocks
    )  # fmt: skip


def larger(pair: Floats) -> Floats:
    """The greater of both ends of each move; NaN where either is not known."""
    return np.asarray(pair.max(axis=1), np.float64)


# -- roughness ---------------------------------------------------------------------------------------------------------


def ra_of(load: Load) -> Floats:
    """The theoretical Ra in micrometres that each finishing move leaves; NaN elsewhere."""
    return load.roughness * RA_SHARE


def ra_allowed(cuts: Cuts, load: Load, setup: Setup) -> tuple[Floats, dict[int, Roughness]]:
    """For each move the Ra that the drawing allows there (NaN: nothing), and which entry of the sheet says so."""
    allowed, says = np.full(len(load.roughness), np.nan), dict[int, Roughness]()
    for row in cuts.rows[load.finishes[cuts.rows]].tolist():
        found = _entry(
            setup.roughness, cuts.sequence, 2 * float(load.surface.radius[row]), float(load.surface.face[row])
        )
        if found is not None:
            allowed[row], says[row] = float(found.ra), found
    return allowed, says


def _entry(entries: tuple[Roughness, ...], sequence: Sequence | None, diameter: float, face: float) -> Roughness | None:
    """What a drawing says of a surface: the surface itself, else its sequence, else the rest; of equals the finer."""
    sizes = {"X": diameter, "Z": face}
    apart = [
        (abs(abs(sizes[e.axis]) - abs(float(e.nominal))), float(e.ra), k)
        for k, e in enumerate(entries)
        if e.axis is not None and e.nominal is not None
    ]
    near = [entry for entry in apart if entry[0] <= _NEAR_SIZE]
    if near:
        return entries[min(near)[2]]
    for wanted in dict.fromkeys((_number(sequence), None)):
        rest = [e for e in entries if e.axis is None and e.sequence == wanted]
        if rest:
            return min(rest, key=lambda e: e.ra)
    return None


def _number(sequence: Sequence | None) -> int | None:
    """The search number of a sequence; None where it has none."""
    digits = sequence.label[1:] if sequence is not None and sequence.label[:1] == "N" else ""
    return int(digits) if digits.isascii() and digits.isdecimal() else None


def shown(value: float, places: int, unit: str) -> str:
    """A computed amount with its unit."""
    return f"{value:.{places}f} {unit}"


def micrometres(value: float, units: str) -> str:
    """A roughness in the unit that the program's people read."""
    return shown(value, 2, "µm") if units == "mm" else f"{value / 0.0254:.0f} µin ({value:.2f} µm)"


def millimetres(value: float) -> Fraction:
    """A computed length in mm as it is shown: to a hundredth."""
    return Fraction(round(value * 100), 100)
