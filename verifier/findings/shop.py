"""Values in shop words: lengths, feeds and speeds in the units the program is written in."""

from __future__ import annotations

import re
from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from math import pi

from verifier.control import TICKS_PER_INCH, TICKS_PER_MM, held_speed

MM_PER_INCH = Fraction(127, 5)
METRES_PER_FOOT = Fraction(381, 1250)
NOT_SET = "not established"

_IN_WORDS = {
    "per-revolution": "feed per revolution",
    "per-minute": "feed per minute",
    "lead": "thread lead",
    "rpm": "fixed speed",
    "surface": "constant surface speed",
    "rapid": "rapid",
    "feed": "feed",
    "arc_cw": "arc clockwise (G02)",
    "arc_ccw": "arc counter-clockwise (G03)",
    "thread": "thread",
    "G40": "off (G40)",
    "G41": "left (G41)",
    "G42": "right (G42)",
}


def decimal(value: Fraction, places: int) -> str:
    """A number with at most so many decimals, trailing zeros and a bare point left out (half to even)."""
    text = f"{Decimal(value.numerator) / Decimal(value.denominator):.{places}f}"
    return (text.rstrip("0").rstrip(".") if "." in text else text) if text.strip("-0.") else "0"


@lru_cache(maxsize=4096)
def length(ticks: int, units: str, *, diameter: bool = False) -> str:
    """A length with its unit, in the program's unit system; a diameter from a radius in ticks."""
    amount = Fraction(ticks * (2 if diameter else 1))
    if units == "inch":
        return f"{decimal(amount / TICKS_PER_INCH, 5)} in"
    return f"{decimal(amount / TICKS_PER_MM, 4)} mm"


def millimetres(amount: Fraction, units: str) -> str:
    """A length given in mm, in the program's unit system."""
    return length(round(amount * TICKS_PER_MM), units)


def feed(value: object, mode: object, units: str) -> str:
    """A feed with its unit."""
    if not isinstance(value, Fraction):
        return NOT_SET if value is None else _of_either_unit(value, lambda number, own: feed(number, mode, own))
    shown = value / MM_PER_INCH if units == "inch" else value
    unit = "in" if units == "inch" else "mm"
    per = {"per-revolution": "/rev", "per-minute": "/min", "lead": " lead"}.get(str(mode), " per revolution or minute")
    return f"{decimal(shown, 6)} {unit}{per}"


_KEPT = re.compile(r"held from ([0-9/]+) m/min at X ")
_EITHER = re.compile(r"[FS] ([0-9/]+) given in (mm|inch)")


def _of_either_unit(value: object, shown: Callable[[Fraction, str], str]) -> str:
    """A feed or a surface speed over which the unit was changed: a control converts it, or reads its number anew."""
    found = _EITHER.fullmatch(str(value))
    return (
        str(value) if found is None else f"{shown(Fraction(found[1]), found[2])}, or the same number in the other unit"
    )


def speed(value: object, mode: object, units: str) -> str:
    """A spindle speed with its unit."""
    if not isinstance(value, Fraction):
        return NOT_SET if value is None else _held(value, units)
    if mode == "surface":
        return f"{decimal(value / METRES_PER_FOOT, 2)} ft/min" if units == "inch" else f"{decimal(value, 2)} m/min"
    return f"{decimal(value, 2)} rev/min"


def held_rpm(value: object) -> float | None:
    """What a held speed comes to in rev/min: 1000 v / (pi D), or its clamp where that is less; None for anything else."""
    held = held_speed(value)
    if held is None:
        return None
    turning = float("inf") if not held.x else float(1000 * held.surface * TICKS_PER_MM) / (pi * 2 * abs(held.x))
    found = turning if held.clamp is None else min(turning, float(held.clamp))
    return None if found == float("inf") else found


def _held(value: object, units: str) -> str:
    """A speed that G97 keeps, in words; any other value as it is."""
    held, turning = held_speed(value), held_rpm(value)
    if held is None and (kept := _KEPT.match(str(value))):
        return f"a speed kept from {speed(Fraction(kept[1]), 'surface', units)} at a place that only the machine knows"
    if held is None:
        return _of_either_unit(value, lambda number, own: speed(number, "surface", own))
    shown = "a speed without limit" if turning is None else f"{turning:.0f} rev/min"
    return f"{shown} (kept from {speed(held.surface, 'surface', units)} at X {length(held.x, units, diameter=True)})"


def clamp(value: object) -> str:
    """A speed clamp with its unit."""
    if value is None:
        return "none"
    return f"{decimal(value, 2)} rev/min" if isinstance(value, Fraction) else str(value)


def state_word(value: object) -> str:
    """Any other state in words."""
    if value is None:
        return NOT_SET
    return _IN_WORDS.get(str(value), str(value))


def ratio_words(before: Fraction, after: Fraction) -> str:
    """A change of a magnitude as people say it: doubled, halved, ten times, 25 % more."""
    if not before or not after:
        return "from or to nothing"
    ratio = after / before
    named = {Fraction(2): "doubled", Fraction(1, 2): "halved", Fraction(10): "ten times", Fraction(1, 10): "a tenth"}
    if ratio in named:
        return named[ratio]
    if ratio > 3 or ratio < Fraction(1, 3):
        return f"{decimal(ratio, 2)} times" if ratio > 1 else f"1/{decimal(1 / ratio, 2)} of it"
    change = (ratio - 1) * 100
    return f"{decimal(abs(change), 1)} % {'more' if change > 0 else 'less'}"


def lasting(seconds: float) -> str:
    """How long something takes, as a person would say it: "54 s", "18 min", "31.7 h"."""
    if seconds < 600:
        return f"{seconds:.0f} s"
    return f"{seconds / 60:.0f} min" if seconds < 7200 else f"{seconds / 3600:.1f} h"


def seconds(text: str) -> str:
    """A dwell as it stands in a trace ("3/2 s", "2 rev") in decimals."""
    number, _, unit = text.partition(" ")
    try:
        return f"{decimal(Fraction(number), 3)} {unit}"
    except ValueError:
        return text
