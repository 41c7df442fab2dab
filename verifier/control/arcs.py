"""Circle arcs in the X-Z plane: the centre from I and K or from R, and what is wrong with an arc that cannot be.

The plane is seen with +Z to the right and +X (away from the centre line) up; G02 is clockwise there whatever side the turret is on
(common practice, no source; profile exceptions are the builder's). Limits of mismatch: NISTIR 6556 section 3.5.3 (0.002 mm, 0.0002 in).
"""

from __future__ import annotations

from math import hypot, sqrt

from verifier.control.strokes import Kind, Point
from verifier.control.trace import TICKS_PER_INCH, TICKS_PER_MM

MISMATCH = {"mm": 2 * TICKS_PER_MM // 1000, "inch": 2 * TICKS_PER_INCH // 10000}
"""How far the two radii of an arc given by its centre may differ, in ticks."""


def centre_from_radius(kind: Kind, start: Point, end: Point, radius: int) -> Point | None:
    """The centre of the arc of at most 180 degrees; None where the radius does not reach from start to end.

    A radius too short by no more than 1e-5 of itself is a half circle: its centre is the middle of the chord.
    """
    dx, dz = end.x - start.x, end.z - start.z
    chord = hypot(dx, dz)
    if chord == 0:
        return None
    rise_squared = radius * radius - chord * chord / 4
    if rise_squared < 0:
        if chord / 2 - radius > radius * 1e-5:
            return None
        rise_squared = 0.0
    rise = sqrt(rise_squared)
    # To the right of the direction of travel for a clockwise arc (z right, x up): right of (dz, dx) is (dx, -dz).
    side = 1 if kind is Kind.ARC_CW else -1
    return Point(
        x=round((start.x + end.x) / 2 - side * rise * dz / chord),
        z=round((start.z + end.z) / 2 + side * rise * dx / chord),
    )


def radius_mismatch(start: Point, end: Point, centre: Point) -> int:
    """By how many ticks the distances of start and end from the centre differ."""
    return round(abs(hypot(start.x - centre.x, start.z - centre.z) - hypot(end.x - centre.x, end.z - centre.z)))
