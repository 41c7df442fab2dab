"""Cutting force and power by Kienzle: kc = kc1.1 * h^-mc, Fc = kc * b * h, P = Fc * v / 60000.

N, mm, m/min, kW. For a sharp edge at the rake of the table the two values come from; a worn one needs up to half as much again.
"""

from __future__ import annotations

from math import pi

import numpy as np
from numpy.typing import NDArray

from verifier.machines import Material, Spindle

Floats = NDArray[np.float64]


def specific_force(material: Material, thickness: Floats) -> Floats:
    """N on each mm2 of swarf section, at a swarf thickness in mm (0 where there is no swarf)."""
    some = thickness > 0
    safe = np.where(some, thickness, 1.0)
    found = float(material.kc11) * safe ** -float(material.mc)
    return np.asarray(np.where(some, found, np.where(np.isnan(thickness), np.nan, 0.0)), np.float64)


def cutting_force(material: Material, width: Floats, thickness: Floats) -> Floats:
    """N for swarf so wide and so thick, in mm."""
    return np.asarray(specific_force(material, thickness) * width * thickness, np.float64)


def cutting_power(force: Floats, speed: Floats) -> Floats:
    """KW at the cut, for a force in N and a cutting speed in m/min."""
    return np.asarray(force * speed / 60_000, np.float64)


def power_at_cut(spindle: Spindle, rpm: Floats) -> Floats:
    """KW that arrive at the cut at most, at a speed in rev/min; NaN where the profile gives neither power nor torque.

    The motor's power times the efficiency (taken as 1 where it is not given), less below the base speed, and no more than the torque makes.
    """
    found = np.full(np.shape(rpm), np.nan)
    if spindle.power_kw is not None:
        share = float(spindle.efficiency) if spindle.efficiency is not None else 1.0
        rise = (
            np.minimum(1.0, rpm / float(spindle.base_rpm)) if spindle.base_rpm is not None else np.ones(np.shape(rpm))
        )
        found = np.where(np.isnan(rpm), np.nan, float(spindle.power_kw) * share * rise)
    if spindle.torque_nm is not None:
        found = np.fmin(found, float(spindle.torque_nm) * rpm * 2 * pi / 60_000)
    return np.asarray(found, np.float64)
