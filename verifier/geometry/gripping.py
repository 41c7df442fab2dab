"""What is left of the grip of jaws at speed: their own mass pulls them outward with the square of it.

Fc = Mc * (pi * n / 30)^2, with Mc the sum over all jaws of mass times radius in kg m. VDI 3106, EN 1550: the pull is to stay within 67 per cent of
the grip at rest.
"""

from __future__ import annotations

from math import inf, pi, sqrt

from verifier.machines import Grip

MOST_LOST = 0.67
"""The share of the grip at rest that turning speed may take, as quoted from EN 1550."""


def pull_of_jaws(grip: Grip, rpm: float) -> float:
    """N by which speed pulls the jaws outward."""
    return float(float(grip.jaw_moment) * (pi * rpm / 30) ** 2)


def grip_left(grip: Grip, grips: str, rpm: float) -> float:
    """N of grip at a speed: less where the jaws grip from outside, more where they grip from inside."""
    pull = pull_of_jaws(grip, rpm)
    return float(grip.at_rest) - (pull if grips == "outside" else -pull)


def permitted_speed(grip: Grip, grips: str) -> float:
    """Rev/min up to which what is needed is left, and no more than `MOST_LOST` is lost; infinite for a grip from inside."""
    if grips != "outside":
        return inf
    at_rest = float(grip.at_rest)
    spare = min(at_rest - float(grip.needed or 0), MOST_LOST * at_rest)
    return 30 / pi * sqrt(spare / float(grip.jaw_moment))
