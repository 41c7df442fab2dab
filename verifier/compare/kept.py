"""What was worked out of a trace already, kept by trace: each is made once, and a part that begins like another goes on where the two part."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from verifier.compare.items import Items, items_of
from verifier.control import Trace
from verifier.geometry import Load, Swept, Times, TurnedPart, cutting_load, sweep, times
from verifier.machines import Machine, Setup

T = TypeVar("T")

_KEPT = 4
"""With how many of the latest sweeps a new one is compared; ways through questions differ late, and two sides mostly little."""


class Kept:
    """What one comparison has worked out. Only what was asked for is made; the outcome is the same in whatever order that is."""

    def __init__(self) -> None:
        self._swept: list[tuple[str, Swept]] = []
        self._loads: list[tuple[TurnedPart, Load]] = []
        self._items: list[tuple[Trace, Machine, Items]] = []
        self._times: list[tuple[Trace, Machine, Times]] = []

    def copy(self) -> Kept:
        """The same, for another comparison to add its own to."""
        other = Kept()
        other._swept, other._loads = list(self._swept), list(self._loads)
        other._items, other._times = list(self._items), list(self._times)
        return other

    def items(self, trace: Trace, machine: Machine) -> Items:
        """A trace as it is compared."""
        return _kept(self._items, trace, machine, items_of)

    def times(self, trace: Trace, machine: Machine) -> Times:
        """How long its moves and events take."""
        return _kept(self._times, trace, machine, times)

    def part(self, trace: Trace, machine: Machine, setup: Setup | None) -> TurnedPart | None:
        """The part that a trace turns; None without a setup sheet that names a stock."""
        if setup is None or setup.stock is None:
            return None
        key = f"{machine.digest} {setup.digest}"
        alike = [swept for name, swept in self._swept if name == key]
        known = next((swept for swept in alike if swept.trace is trace), None)
        if known is None:
            known = sweep(trace, machine, setup, alike[:1] + alike[1:][-_KEPT:])
            assert known is not None
            self._swept.append((key, known))
        return known.part

    def load(self, trace: Trace, machine: Machine, setup: Setup | None) -> Load | None:
        """The load of its cuts; None where there is no part."""
        part = self.part(trace, machine, setup)
        if part is None or setup is None:
            return None
        known = next((load for one, load in self._loads if one is part), None)
        if known is None:
            known = cutting_load(trace, machine, setup, part)
            self._loads.append((part, known))
        return known


def _kept(
    known: list[tuple[Trace, Machine, T]], trace: Trace, machine: Machine, make: Callable[[Trace, Machine], T]
) -> T:
    """What is kept of a trace on a machine, else made and kept."""
    for one, on, made in known:
        if one is trace and on is machine:
            return made
    found = make(trace, machine)
    known.append((trace, machine, found))
    return found
