"""General tolerances for sizes without a limit of their own: ISO 2768-1:1989, table 1 (linear dimensions), as data.

Two wrong public copies of the table are known, which this one is not: class c over 3 to 6 mm as 0.2 (it is 0.3), and
class v from 0.5 to 6 mm as 0.5 throughout (there is no v value below 3 mm).
"""

from __future__ import annotations

from fractions import Fraction

CLASSES = ("f", "m", "c", "v")
"""Fine, medium, coarse, very coarse."""

SMALLEST = Fraction(1, 2)
"""Below this size, in mm, the standard gives no value: the deviation stands at the dimension itself."""

UPPER_ENDS = (3, 6, 30, 120, 400, 1000, 2000, 4000)
"""The upper end of each step in mm; a size on an end belongs to the step below it."""

_TABLE: dict[str, tuple[str | None, ...]] = {
    "f": ("0.05", "0.05", "0.1", "0.15", "0.2", "0.3", "0.5", None),
    "m": ("0.1", "0.1", "0.2", "0.3", "0.5", "0.8", "1.2", "2"),
    "c": ("0.2", "0.3", "0.5", "0.8", "1.2", "2", "3", "4"),
    "v": (None, "0.5", "1", "1.5", "2.5", "4", "6", "8"),
}


def general_tolerance(nominal_mm: Fraction, cls: str) -> Fraction | None:
    """The permissible deviation, plus or minus, in mm, of a linear size of `nominal_mm` in class f, m, c or v.

    None where the standard gives none (below 0.5 mm, above 4000 mm, or a gap of the class); KeyError for another class.
    """
    row = _TABLE[cls]
    if nominal_mm < SMALLEST:
        return None
    for end, value in zip(UPPER_ENDS, row, strict=True):
        if nominal_mm <= end:
            return None if value is None else Fraction(value)
    return None


_RADII_ENDS = (3, 6)
_RADII = {"f": ("0.2", "0.5", "1"), "m": ("0.2", "0.5", "1"), "c": ("0.4", "1", "2"), "v": ("0.4", "1", "2")}
"""ISO 2768-1:1989, table 2: external radii and chamfer heights, by size 0.5 to 3, over 3 to 6, over 6 mm."""

_LEGS = (10, 50, 120, 400)
_ANGLES = {
    "f": (60, 30, 20, 10, 5),
    "m": (60, 30, 20, 10, 5),
    "c": (90, 60, 30, 15, 10),
    "v": (180, 120, 60, 30, 20),
}
"""ISO 2768-1:1989, table 3: angles, in minutes, by the length of the shorter leg up to 10, 50, 120, 400 and over 400 mm."""


def radius_tolerance(nominal_mm: Fraction, cls: str) -> Fraction | None:
    """The permissible deviation in mm of a radius or a chamfer height; None below 0.5 mm, where it stands at the size itself."""
    if nominal_mm < SMALLEST:
        return None
    step = sum(nominal_mm > end for end in _RADII_ENDS)
    return Fraction(_RADII[cls][step])


def angle_tolerance(leg_mm: Fraction, cls: str) -> Fraction:
    """The permissible deviation in degrees of an angle whose shorter leg is so long."""
    step = sum(leg_mm > end for end in _LEGS)
    return Fraction(_ANGLES[cls][step], 60)
