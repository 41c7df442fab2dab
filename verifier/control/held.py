"""The speed that G97 without S keeps: what the spindle turned at that moment, told by what it follows from, exactly.

The speed itself is 1000 v / (pi D), no rational number; so the value in force is a text that two programs share only where they hold the same
surface speed at the same diameter under the same clamp. Source of the rule: course texts agree (G97 without S keeps the last speed).
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import NamedTuple

from verifier.control.state import Coordinate

_FORM = re.compile(r"held from ([0-9/]+) m/min at X (-?[0-9]+)(?: under ([0-9/]+) rev/min)?")


class Held(NamedTuple):
    """A held speed: the surface speed in m/min, the X radius in ticks at that moment, and the clamp in rev/min then (None: no clamp)."""

    surface: Fraction
    x: int
    clamp: Fraction | None


def held_text(surface: object, x: Coordinate, clamp: object) -> str:
    """The value in force for a speed held at `x`; with an unknown place or clamp it can be compared, but not computed."""
    place = f"{x.base}+{x.ticks}" if x.base else str(x.ticks)
    return f"held from {surface} m/min at X {place}" + (f" under {clamp} rev/min" if clamp is not None else "")


def held_speed(value: object) -> Held | None:
    """What a held speed follows from; None for any other value, and for one that only the machine knows."""
    found = _FORM.fullmatch(value) if isinstance(value, str) else None
    if found is None:
        return None
    surface, x, clamp = found.groups()
    return Held(Fraction(surface), int(x), Fraction(clamp) if clamp else None)
