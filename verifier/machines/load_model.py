"""What a setup sheet says about load and surface: the material, the roughness that the drawing asks for, the grip of the jaws."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True, slots=True)
class Material:
    """What is cut: its designation, and by Kienzle `kc11` in N/mm2 for a swarf section of 1 mm by 1 mm, and the exponent `mc`."""

    designation: str
    kc11: Fraction
    mc: Fraction


@dataclass(frozen=True, slots=True)
class Roughness:
    """The greatest Ra in micrometres that the drawing allows.

    On the surface of a nominal size in mm (`axis` "X": a diameter, "Z": a face), on what the sequence with a search number leaves, or, with
    neither, everywhere else.
    """

    ra: Fraction
    axis: str | None = None
    nominal: Fraction | None = None
    sequence: int | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Grip:
    """How hard the jaws grip: all of them together in N at rest, what must be left at speed (None: not said), and their moment.

    `jaw_moment` is the sum over all jaws of mass times the radius of its centre, kg m: what turning speed makes a force of.
    """

    at_rest: Fraction
    needed: Fraction | None
    jaw_moment: Fraction
