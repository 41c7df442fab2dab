"""Designations of indexable inserts by ISO 1832, as far as the outline of their cutting edges needs them.

A designation names the shape, the clearance, the tolerance and the type by a letter each, then the size, the thickness and the nose radius: in
metric style two digits each (edge length in whole mm, cut off; nose radius in tenths of a mm), in inch style one digit or so each
(inscribed circle in eighths of an inch, nose radius in sixty-fourths).
"""

from __future__ import annotations

import re
from fractions import Fraction
from math import radians, tan
from typing import NamedTuple

CORNERS: dict[str, tuple[int, ...]] = {
    "C": (80, 100, 80, 100),
    "D": (55, 125, 55, 125),
    "E": (75, 105, 75, 105),
    "H": (120,) * 6,
    "M": (86, 94, 86, 94),
    "O": (135,) * 8,
    "P": (108,) * 5,
    "S": (90,) * 4,
    "T": (60,) * 3,
    "V": (35, 145, 35, 145),
    "W": (80, 160, 80, 160, 80, 160),
}
"""The angles of the corners of each shape with equal edges, in degrees, the cutting corner first (R is a circle)."""

CORNER_ANGLE = {shape: corners[0] for shape, corners in CORNERS.items()}

INSERT_FORM = r"^[CDEHMOPRSTVW][A-Z]{3} ?([0-9]{2} ?[0-9T][0-9] ?([0-9]{2}|M0)|[0-9](\.[0-9])? ?[0-9](\.[0-9])? ?[0-9X])( ?[A-Z0-9-]+)?$"

_METRIC = re.compile(r"^([A-Z])[A-Z]{3}([0-9]{2})[0-9T][0-9]([0-9]{2}|M0)")
_INCH = re.compile(r"^([A-Z])[A-Z]{3}([0-9](?:\.[0-9])?)[0-9](?:\.[0-9])?([0-9X])")
_INCH_MM = Fraction(254, 10)


class Designated(NamedTuple):
    """What a designation says: the letter of the shape, the edge length (the diameter of a round one) and the nose radius in mm.

    In metric style the edge may be up to 1 mm longer than its whole number says. `nose_radius` is None where the designation leaves it open.
    """

    shape: str
    edge_length: Fraction
    nose_radius: Fraction | None


def designated(text: str) -> Designated | None:
    """An insert by its designation; None where it cannot be read."""
    short = text.replace(" ", "")
    metric = _METRIC.match(short)
    if metric is not None:
        shape, size, nose = metric.groups()
        radius = Fraction(int(nose), 10) if nose.isdecimal() else None
        return Designated(shape, Fraction(int(size)), Fraction(int(size), 2) if shape == "R" else radius)
    inch = _INCH.match(short)
    if inch is None:
        return None
    shape, size, nose = inch.groups()
    circle = Fraction(size) / 8 * _INCH_MM
    if shape == "R":
        return Designated(shape, circle, circle / 2)
    radius = Fraction(int(nose), 64) * _INCH_MM if nose.isdecimal() else None
    return Designated(shape, edge_of_circle(shape, circle), radius)


def edge_of_circle(shape: str, circle: Fraction) -> Fraction:
    """The edge length in mm of a shape around an inscribed circle (diameter in mm), to the thousandth below."""
    first, second = CORNERS[shape][:2]
    edge = float(circle) / 2 * (1 / tan(radians(first / 2)) + 1 / tan(radians(second / 2)))
    return Fraction(int(edge * 1000 + 1e-6), 1000)
