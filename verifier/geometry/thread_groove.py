"""The groove that a thread profile leaves in a straight or a conical surface: how wide, how large, how long its edge, in closed form.

The profile is a V with a round tip and stands square to the spindle's axis. Z runs along the axis from the middle of the tip, r upward from its
lowest point; the surface is the line r = depth + slope z.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import asin, cos, pi, radians, sin, sqrt, tan


@dataclass(frozen=True, slots=True)
class Profile:
    """A V of a full `angle` (degrees) with a round tip of radius `nose` (mm)."""

    nose: float
    angle: float

    @property
    def half(self) -> float:
        """Half of the angle in radians."""
        return radians(self.angle / 2)

    @property
    def round_to(self) -> float:
        """As far as the round tip goes to either side, mm."""
        return self.nose * cos(self.half)

    @property
    def round_high(self) -> float:
        """As high as the round tip goes, mm."""
        return self.nose * (1 - sin(self.half))

    def reach(self, depth: float, slope: float) -> float:
        """Where the profile's side toward +Z comes out of a surface that rises by `slope` along Z, mm; 0 where it does not go in."""
        if depth <= 0:
            return 0.0
        # r = depth + slope z on the flank r = round_high + (z - round_to) / tan(half).
        steep = 1 / tan(self.half) - slope
        if steep <= 0:
            return float("inf")
        z = (depth - self.round_high + self.round_to / tan(self.half)) / steep
        if z >= self.round_to:
            return z
        # The same on the circle z^2 + (r - nose)^2 = nose^2: the greater root.
        a, b, c = 1 + slope**2, slope * (depth - self.nose), depth * (depth - 2 * self.nose)
        return (-b + sqrt(max(b * b - a * c, 0.0))) / a

    def below(self, z: float) -> float:
        """The area under the profile from its middle to a place on one side, mm2."""
        inner = min(z, self.round_to)
        area = 0.0
        if self.nose > 0:
            area = (
                self.nose * inner - (inner * sqrt(self.nose**2 - inner**2) + self.nose**2 * asin(inner / self.nose)) / 2
            )
        beyond = max(z - self.round_to, 0.0)
        return area + beyond * self.round_high + beyond**2 / (2 * tan(self.half))

    def along(self, z: float) -> float:
        """The length of the profile from its middle to a place on one side, mm."""
        beyond = max(z - self.round_to, 0.0) / sin(self.half)
        if z >= self.round_to:
            return self.nose * (pi / 2 - self.half) + beyond
        return self.nose * asin(z / self.nose)


def groove_area(depth: float, nose: float, angle: float, slope: float = 0.0) -> float:
    """The area in mm2 of the groove that a profile leaves so deep, measured square to the axis at its tip, in a surface of a slope (dr/dz)."""
    profile = Profile(nose, angle)
    up, down = profile.reach(depth, slope), profile.reach(depth, -slope)
    return depth * (up + down) + slope * (up**2 - down**2) / 2 - profile.below(up) - profile.below(down)


def edge_of_profile(depth: float, nose: float, angle: float, slope: float = 0.0) -> float:
    """The length in mm of the profile's edge in such a surface."""
    profile = Profile(nose, angle)
    return profile.along(profile.reach(depth, slope)) + profile.along(profile.reach(depth, -slope))
