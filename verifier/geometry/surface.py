"""The roughness that feed and nose radius alone make of a turned surface: its theoretical depth Rt, and the Ra that goes with it.

The true surface is rougher: built-up edge, wear and vibration come on top. Micrometres, feed and radius in mm.
"""

from __future__ import annotations

from math import sqrt

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

RA_SHARE = 4 / (9 * sqrt(3))
"""Ra over Rt of a row of parabolas: Ra = f^2 / (31.177 r). Handbooks round to 32."""

_UM = 1000.0


def parabola(feed: Floats, radius: Floats) -> Floats:
    """Rt = f^2 / (8 r): the handbook's approximation."""
    return np.asarray(feed**2 / (8 * radius) * _UM, np.float64)


def true_depth(feed: Floats, radius: Floats, edge: Floats) -> Floats:
    """Rt of nose circles one feed apart, with the straight edge behind (or before) the nose at `edge` radians to the surface.

    Up to f = 2 r sin(edge) only the circle counts: r - sqrt(r^2 - f^2/4). Beyond it the straight edge takes the crest lower: then
    r (1 - cos e) + f sin e cos e - sqrt(2 f r sin^3 e - f^2 sin^4 e), where the line meets the next circle. NaN where even
    that meets nothing: a feed of more than twice the radius.
    """
    flat = np.minimum(edge, np.pi / 2)
    s, c = np.sin(flat), np.cos(flat)
    circle = radius - np.sqrt(np.maximum(radius**2 - feed**2 / 4, 0.0))
    under = 2 * feed * radius * s**3 - feed**2 * s**4
    line = radius * (1 - c) + feed * s * c - np.sqrt(np.maximum(under, 0.0))
    only_circle = feed <= 2 * radius * s
    known = np.where(only_circle, feed <= 2 * radius, under >= 0)
    return np.asarray(np.where(known, np.where(only_circle, circle, line), np.nan) * _UM, np.float64)


def limit_of_circle(radius: Floats, edge: Floats) -> Floats:
    """The feed up to which only the nose circle makes the surface: 2 r sin(edge)."""
    return np.asarray(2 * radius * np.sin(np.minimum(edge, np.pi / 2)), np.float64)
