"""How much a changed size weighs: by the drawing limits of the setup sheet, else by the shop's general tolerance class."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from verifier.findings import shop
from verifier.findings.model import Weight
from verifier.findings.policy import Policy
from verifier.findings.tolerances import angle_tolerance, general_tolerance, radius_tolerance
from verifier.machines import Limit, Setup


@dataclass(frozen=True, slots=True)
class SizeJudgement:
    """The weight of a changed size and, in words, what it was held against."""

    weight: Weight
    words: str

    @classmethod
    def without_limit(cls, words: str) -> SizeJudgement:
        """The judgement of a size that nothing can be held against: `words` say why."""
        return cls(Weight.MAJOR, words)


def judge_size(
    axis: str, before: Fraction, after: Fraction, setup: Setup | None, policy: Policy, units: str
) -> SizeJudgement:
    """Judge a size of an axis ("X": a diameter, "Z") in mm that changed from `before` to `after`."""
    size_before, size_after = abs(before), abs(after)
    limit = _limit(axis, size_before, size_after, setup)
    if limit is not None:
        return _by_limit(limit, size_before, size_after, units)
    allowed = general_tolerance(size_before, policy.tolerance_class)
    return _by_class(abs(after - before), allowed, policy, units)


def judge_radius(before: Fraction, after: Fraction, policy: Policy, units: str) -> SizeJudgement:
    """Judge a radius or the height of a chamfer in mm: the setup sheet has no limits for them, so by class."""
    return _by_class(abs(after - before), radius_tolerance(before, policy.tolerance_class), policy, units)


def judge_angle(before: Fraction, after: Fraction, leg: Fraction, policy: Policy) -> SizeJudgement:
    """Judge an angle in degrees whose shorter leg is `leg` mm long, by class."""
    allowed, moved = angle_tolerance(leg, policy.tolerance_class), abs(after - before)
    shown = f"±{shop.decimal(allowed, 2)} degrees of class {policy.tolerance_class}"
    if moved > allowed:
        return SizeJudgement(Weight.MAJOR, f"beyond the general tolerance {shown}")
    if moved < allowed * policy.tolerance_minor_share:
        return SizeJudgement(Weight.MINOR, f"a small part of the general tolerance {shown}")
    return SizeJudgement(Weight.MAJOR, "drawing limit not given")


def _by_class(moved: Fraction, allowed: Fraction | None, policy: Policy, units: str) -> SizeJudgement:
    if allowed is None:
        return SizeJudgement(Weight.MAJOR, "drawing limit not given, and no general tolerance at this size")
    shown = f"±{shop.millimetres(allowed, units)} of class {policy.tolerance_class}"
    if moved > allowed:
        return SizeJudgement(Weight.MAJOR, f"beyond the general tolerance {shown}")
    if moved < allowed * policy.tolerance_minor_share:
        return SizeJudgement(Weight.MINOR, f"a small part of the general tolerance {shown}")
    return SizeJudgement(Weight.MAJOR, "drawing limit not given")


def _limit(axis: str, before: Fraction, after: Fraction, setup: Setup | None) -> Limit | None:
    """The drawing limit that a size belongs to: one that holds it before or after the change, the nearest of them."""
    found = [
        limit
        for limit in (setup.limits if setup is not None else ())
        if limit.axis == axis and (_inside(limit, before) or _inside(limit, after))
    ]
    return min(found, key=lambda limit: abs(abs(limit.nominal) - before), default=None)


def _inside(limit: Limit, size: Fraction) -> bool:
    nominal = abs(limit.nominal)
    return nominal + limit.lower <= size <= nominal + limit.upper


def _by_limit(limit: Limit, before: Fraction, after: Fraction, units: str) -> SizeJudgement:
    name = f"{shop.millimetres(abs(limit.nominal), units)} {_deviations(limit, units)}"
    named = f"{name} ({limit.note})" if limit.note else name
    if not _inside(limit, after):
        return SizeJudgement(Weight.MAJOR, f"outside the drawing limit {named}")
    if not _inside(limit, before):
        return SizeJudgement(Weight.MAJOR, f"now inside the drawing limit {named}, outside it before")
    return SizeJudgement(Weight.MINOR, f"within the drawing limit {named}")


def _deviations(limit: Limit, units: str) -> str:
    if limit.upper == -limit.lower:
        return f"±{shop.millimetres(limit.upper, units)}"
    return f"{_signed(limit.upper, units)} / {_signed(limit.lower, units)}"


def _signed(value: Fraction, units: str) -> str:
    return ("+" if value > 0 else "") + shop.millimetres(value, units)
