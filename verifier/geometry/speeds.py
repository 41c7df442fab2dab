"""How fast the spindle turns at each diameter, and what that makes of the time along a line or an arc.

Under constant surface speed n = 1000 v / (pi D) up to the clamp (or the machine's greatest speed, where no clamp is known), so that the
minutes of one revolution, 1/n, are max(1/n_max, 2 pi |r| / (1000 v)): piecewise linear in the radius r. Lines are therefore exact by the
trapezoid rule between the clamp radii, and arcs by the integral of a cosine between them.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import inf, pi

import numpy as np
from numpy.typing import NDArray

from verifier.control import TICKS_PER_MM, InForce, held_speed
from verifier.machines import Machine

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class SpeedLaw:
    """The spindle speed as a function of the X radius: `limit` rev/min, or less where `surface` (m/min) is held.

    `clamped` tells whether a programmed clamp was known; `surface` is None for a constant speed.
    """

    limit: float
    surface: float | None
    clamped: bool

    @property
    def slope(self) -> float:
        """Minutes per revolution and millimetre of radius where the surface speed is held (0 for a constant speed)."""
        return 0.0 if self.surface is None else 2 * pi / (1000 * self.surface)

    @property
    def break_radius(self) -> float:
        """The radius in mm below which the limit is in force (without a surface speed: everywhere)."""
        return inf if self.surface is None else 1 / (self.limit * self.slope)

    def at(self, radius: float) -> float:
        """Revolutions per minute at an X radius in mm (its sign says only on which side)."""
        return self.limit if abs(radius) <= self.break_radius else 1 / (self.slope * abs(radius))

    def at_radii(self, radii: Floats) -> Floats:
        """The same for many radii."""
        return np.asarray(1 / self._inverse(radii), np.float64)

    def along_line(self, r0: Floats, r1: Floats) -> Floats:
        """The mean of 1/n in minutes along straight moves from radius `r0` to `r1` (mm)."""
        rise = r1 - r0
        cuts = [np.zeros_like(r0), np.ones_like(r0)]
        if self.surface is not None:
            safe = np.where(rise == 0, 1.0, rise)
            cuts += [
                np.where(rise == 0, 0.0, np.clip((edge - r0) / safe, 0, 1))
                for edge in (self.break_radius, -self.break_radius)
            ]
        at = np.sort(np.stack(cuts), axis=0)
        values = self._inverse(r0 + rise * at)
        return np.asarray(((values[1:] + values[:-1]) / 2 * np.diff(at, axis=0)).sum(axis=0), np.float64)

    def along_arc(self, centre: Floats, radius: Floats, first: Floats, sweep: Floats) -> Floats:
        """The mean of 1/n in minutes along arcs: X = centre + radius * cos(first + angle), `angle` from 0 to `sweep` (signed, radians)."""
        if self.surface is None:
            return np.full_like(centre, 1 / self.limit)
        sense, span = np.sign(sweep), np.abs(sweep)
        cuts = [np.zeros_like(span), span]
        for edge in (self.break_radius, -self.break_radius):
            ratio = (edge - centre) / radius
            angle = np.arccos(np.clip(ratio, -1, 1))
            for side in (angle, -angle):
                cuts.append(np.minimum(np.mod((side - first) * sense, 2 * pi), span))
        at = np.sort(np.stack(cuts), axis=0)
        low, high = at[:-1], at[1:]
        middle = centre + radius * np.cos(first + sense * (low + high) / 2)
        ends = np.sin(first + sense * high) - np.sin(first + sense * low)
        held = self.slope * np.abs(centre * (high - low) + sense * radius * ends)
        limited = (high - low) / self.limit
        pieces = np.where(np.abs(middle) > self.break_radius, held, limited)
        return np.asarray(pieces.sum(axis=0) / span, np.float64)

    def _inverse(self, radius: Floats) -> Floats:
        return np.maximum(1 / self.limit, self.slope * np.abs(radius))


def speed_law(state: InForce, machine: Machine) -> SpeedLaw | str:
    """The law of a state, or in words why there is none."""
    if state.sense not in (None, "forward", "reverse"):
        return f"the spindle is {state.sense}"
    speed, mode = state.speed, state.speed_mode
    if mode is None or speed is None:
        return "no spindle speed is established"
    greatest = machine.spindle.max_rpm
    if isinstance(speed, str):
        return _held(speed, machine)
    if speed <= 0:
        return "the spindle speed is zero"
    clamp = state.clamp if isinstance(state.clamp, Fraction) and state.clamp > 0 else None
    limit = greatest if clamp is None else min(clamp, greatest)
    if mode == "surface":
        return SpeedLaw(float(limit), float(speed), clamp is not None)
    return SpeedLaw(float(min(speed, limit)), None, clamp is not None)


def _held(value: str, machine: Machine) -> SpeedLaw | str:
    held = held_speed(value)
    if held is None or held.surface <= 0:
        return "the spindle speed is a value that only the machine knows"
    limit = machine.spindle.max_rpm if held.clamp is None else min(held.clamp, machine.spindle.max_rpm)
    law = SpeedLaw(float(limit), float(held.surface), held.clamp is not None)
    return SpeedLaw(law.at(held.x / TICKS_PER_MM), None, held.clamp is not None)


def spindle_speed(state: InForce, x_radius_ticks: int, machine: Machine) -> float | None:
    """Revolutions per minute at an X radius, clamped; None where the state does not say how fast the spindle turns.

    A stopped spindle turns 0 times. Under constant surface speed without a known clamp the machine's greatest speed is the limit.
    """
    if state.sense not in (None, "forward", "reverse"):
        return 0.0
    law = speed_law(state, machine)
    return law.at(x_radius_ticks / TICKS_PER_MM) if isinstance(law, SpeedLaw) else None
