"""Turned parts kept by trace, so that each is swept once, and what begins like another goes on where the two part."""

from __future__ import annotations

from verifier.control import Trace
from verifier.geometry import Load, Swept, TurnedPart, cutting_load, sweep
from verifier.machines import Machine, Setup

_KEPT = 4
"""With how many of the latest sweeps a new one is compared; ways through questions differ late, and two sides mostly little."""


class Parts:
    """The sweeps of one comparison. Only what was asked for is swept; the outcome is the same in whatever order that is."""

    def __init__(self) -> None:
        self._swept: list[tuple[str, Swept]] = []
        self._loads: list[tuple[TurnedPart, Load]] = []

    def copy(self) -> Parts:
        """The same sweeps, for another comparison to add its own to."""
        other = Parts()
        other._swept, other._loads = list(self._swept), list(self._loads)
        return other

    def of(self, trace: Trace, machine: Machine, setup: Setup | None) -> TurnedPart | None:
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

    def load_of(self, trace: Trace, machine: Machine, setup: Setup | None) -> Load | None:
        """The load of its cuts; None where there is no part."""
        part = self.of(trace, machine, setup)
        if part is None or setup is None:
            return None
        known = next((load for one, load in self._loads if one is part), None)
        if known is None:
            known = cutting_load(trace, machine, setup, part)
            self._loads.append((part, known))
        return known
