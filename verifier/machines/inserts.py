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
    "A": (85, 95, 85, 95),
    "B": (82, 98, 82, 98),
    "C": (80, 100, 80, 100),
    "D": (55, 125, 55, 125),
    "E": (75, 105, 75, 105),
    "H": (120,) * 6,
    "K": (55, 125, 55, 125),
    "L": (90,) * 4,
    "M": (86, 94, 86, 94),
    "O": (135,) * 8,
    "P": (108,) * 5,
    "S": (90,) * 4,
    "T": (60,) * 3,
    "V": (35, 145, 35, 145),
    "W": (80, 160, 80, 160, 80, 160),
}
"""The angles of the corners of each shape, in degrees, the cutting corner first (R is a circle)."""

TWO_LENGTHS = ("A", "B", "K", "L")
"""Parallelograms and the rectangle: their long edges, which cut, and how far these lie apart are two measures. Metric letters give the first only."""

CORNER_ANGLE = {shape: corners[0] for shape, corners in CORNERS.items()}

_METRIC_FORM = r"[0-9]{2} ?[0-9T][0-9] ?([0-9]{2}|M0)"
INSERT_FORM = (
    rf"^([CDEHMOPRSTVW][A-Z]{{3}} ?({_METRIC_FORM}|[0-9](\.[0-9])? ?[0-9](\.[0-9])? ?[0-9X])"
    rf"|[ABKL][A-Z]{{3}} ?({_METRIC_FORM}|[0-9]{{3}} ?[0-9X]))( ?[A-Z0-9-]+)?$"
)

_METRIC = re.compile(r"^([A-Z])[A-Z]{3}([0-9]{2})[0-9T][0-9]([0-9]{2}|M0)")
_INCH = re.compile(r"^([A-Z])[A-Z]{3}([0-9](?:\.[0-9])?)[0-9](?:\.[0-9])?([0-9X])")
_INCH_TWO = re.compile(r"^([ABKL])[A-Z]{3}([1-9])([1-9])[0-9]([0-9X])(?![0-9])")
_INCH_MM = Fraction(254, 10)


class Designated(NamedTuple):
    """What a designation says: the letter of the shape, the edge length (the diameter of a round one) and the nose radius in mm.

    In metric style the edge may be up to 1 mm longer than its whole number says. `nose_radius` is None where the designation leaves it open,
    `width` where the shape has none or the designation does not give it.
    """

    shape: str
    edge_length: Fraction
    nose_radius: Fraction | None
    width: Fraction | None = None


def designated(text: str) -> Designated | None:
    """An insert by its designation; None where it cannot be read."""
    short = text.replace(" ", "")
    metric = _METRIC.match(short)
    if metric is not None:
        shape, size, nose = metric.groups()
        radius = Fraction(int(nose), 10) if nose.isdecimal() else None
        return Designated(shape, Fraction(int(size)), Fraction(int(size), 2) if shape == "R" else radius)
    two = _INCH_TWO.match(short)
    if two is not None:
        # The width in eighths and the length in quarters of an inch (ANSI B212.4, as shops' tables of it give it).
        shape, width, length, nose = two.groups()
        return Designated(shape, Fraction(length) / 4 * _INCH_MM, _sixty_fourths(nose), Fraction(width) / 8 * _INCH_MM)
    inch = _INCH.match(short)
    if inch is None or inch[1] in TWO_LENGTHS:
        return None
    shape, size, nose = inch.groups()
    circle = Fraction(size) / 8 * _INCH_MM
    if shape == "R":
        return Designated(shape, circle, circle / 2)
    return Designated(shape, edge_of_circle(shape, circle), _sixty_fourths(nose))


def _sixty_fourths(nose: str) -> Fraction | None:
    return Fraction(int(nose), 64) * _INCH_MM if nose.isdecimal() else None


def edge_of_circle(shape: str, circle: Fraction) -> Fraction:
    """The edge length in mm of a shape around an inscribed circle (diameter in mm), to the thousandth below."""
    first, second = CORNERS[shape][:2]
    edge = float(circle) / 2 * (1 / tan(radians(first / 2)) + 1 / tan(radians(second / 2)))
    return Fraction(int(edge * 1000 + 1e-6), 1000)
