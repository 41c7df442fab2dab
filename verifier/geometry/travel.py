"""How long the slides take for a way: from rest to rest under a speed and an acceleration, straight or each axis by itself."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from verifier.control import TICKS_PER_MM
from verifier.machines import Machine

Floats = NDArray[np.float64]


class Slides(NamedTuple):
    """What X and Z can do, of the slides themselves: rapid in mm/s, acceleration in mm/s2; and whether a rapid is straight."""

    rapid_x: float
    rapid_z: float
    acceleration_x: float
    acceleration_z: float
    straight: bool


def slides(machine: Machine) -> Slides:
    """The slides of a machine; `straight` by its choice "rapid-path"."""
    x, z = machine.axes["X"], machine.axes["Z"]
    return Slides(
        float(x.rapid / 60),
        float(z.rapid / 60),
        float(x.acceleration),
        float(z.acceleration),
        machine.choice("rapid-path") == "straight",
    )


def rest_to_rest(length: Floats, speed: Floats, acceleration: Floats) -> Floats:
    """Seconds for `length` mm: speed up, travel, slow down; a short way never reaches the speed (mm/s, mm/s2)."""
    reached = length * acceleration >= speed * speed
    long = length / speed + speed / acceleration
    return np.where(reached, long, 2 * np.sqrt(length / acceleration))


def rapid_seconds(dx: Floats, dz: Floats, on: Slides) -> Floats:
    """Seconds of rapids over `dx` (radius) and `dz` mm, from rest to rest, as this machine's rapids travel."""
    way_x, way_z = np.abs(dx), np.abs(dz)
    full = np.full_like(way_x, 1.0)
    if not on.straight:
        alone_x = rest_to_rest(way_x, full * on.rapid_x, full * on.acceleration_x)
        return np.maximum(alone_x, rest_to_rest(way_z, full * on.rapid_z, full * on.acceleration_z))
    length = np.hypot(way_x, way_z)
    speed, acceleration = along_line(way_x, way_z, on)
    return np.where(length > 0, rest_to_rest(length, speed, acceleration), 0.0)


def along_line(way_x: Floats, way_z: Floats, on: Slides) -> tuple[Floats, Floats]:
    """The greatest speed (mm/s) and acceleration (mm/s2) along straight lines that ask no more of either slide than it can do."""
    length = np.hypot(way_x, way_z)
    still = length == 0
    fastest = np.maximum(way_x / on.rapid_x, way_z / on.rapid_z)
    hardest = np.maximum(way_x / on.acceleration_x, way_z / on.acceleration_z)
    whole = np.where(still, 1.0, length)
    return whole / np.where(still, 1.0, fastest), whole / np.where(still, 1.0, hardest)


def rapid_bend(x0: int, z0: int, x1: int, z1: int, machine: Machine) -> tuple[int, int] | None:
    """Where a rapid leaves the line on which both axes run (ticks, X radius): the point at which the first of them has arrived.

    None where the path is straight: by the machine's choice, along one axis, or where both arrive together. Each axis is taken to be at its
    own rate from the start; while they speed up the real path lies within some millimetres of it.
    """
    dx, dz = x1 - x0, z1 - z0
    if machine.choice("rapid-path") == "straight" or not dx or not dz:
        return None
    time_x, time_z = abs(dx) / machine.axes["X"].rapid, abs(dz) / machine.axes["Z"].rapid
    if time_x == time_z:
        return None
    if time_x < time_z:
        return x1, z0 + round(dz * (time_x / time_z))
    return x0 + round(dx * (time_z / time_x)), z1


def millimetres_of(ticks: NDArray[np.int64]) -> Floats:
    """Ticks to millimetres as floats."""
    return np.asarray(ticks, np.float64) / TICKS_PER_MM
