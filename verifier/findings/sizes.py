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
    """The weight of a changed size and, in words, what it was held against.

    `limit` names that alone ("" where there is nothing to hold it against), `verdict` how it stands to it.
    """

    weight: Weight
    words: str
    limit: str = ""
    verdict: str = ""

    @classmethod
    def without_limit(cls, words: str) -> SizeJudgement:
        """The judgement of a size that nothing can be held against: `words` say why."""
        return cls(Weight.MAJOR, words, "", words)


def judge_size(
    axis: str, before: Fraction, after: Fraction, setup: Setup | None, policy: Policy, units: str
) -> SizeJudgement:
    """Judge a size in mm that changed from `before` to `after`: of axis "X" a diameter, "Z" a place, "L" a length or a width."""
    size_before, size_after = abs(before), abs(after)
    limit = _limit(axis, size_before, size_after, setup)
    if limit is not None:
        return _by_limit(limit, size_before, size_after, units)
    allowed = general_tolerance(size_before, policy.tolerance_class)
    return _by_class(abs(after - before), allowed, policy, units)


def judge_thread(before: Fraction, after: Fraction, setup: Setup | None, units: str) -> SizeJudgement:
    """Judge a diameter of a thread in mm: no general tolerance holds for threads."""
    limit = _limit("X", before, after, setup)
    if limit is not None:
        return _by_limit(limit, before, after, units)
    return SizeJudgement.without_limit("a thread is judged by its gauge; drawing limit not given")


def judge_radius(
    before: Fraction, after: Fraction, policy: Policy, units: str, setup: Setup | None = None
) -> SizeJudgement:
    """Judge a radius or the height of a chamfer in mm (axis "R" of the drawing limits)."""
    limit = _limit("R", before, after, setup)
    if limit is not None:
        return _by_limit(limit, before, after, units)
    return _by_class(abs(after - before), radius_tolerance(before, policy.tolerance_class), policy, units)


def judge_angle(before: Fraction, after: Fraction, leg: Fraction, policy: Policy) -> SizeJudgement:
    """Judge an angle in degrees whose shorter leg is `leg` mm long, by class."""
    allowed = angle_tolerance(leg, policy.tolerance_class)
    return _held_against(abs(after - before), allowed, f"±{shop.decimal(allowed, 2)} degrees", policy)


def _by_class(moved: Fraction, allowed: Fraction | None, policy: Policy, units: str) -> SizeJudgement:
    if allowed is None:
        words = "drawing limit not given, and no general tolerance at this size"
        return SizeJudgement(Weight.MAJOR, words, "", words)
    return _held_against(moved, allowed, f"±{shop.millimetres(allowed, units)}", policy)


def _held_against(moved: Fraction, allowed: Fraction, shown: str, policy: Policy) -> SizeJudgement:
    """A change held against what a class allows; a programmed size is mid-limit, so that all of it counts."""
    named = f"{shown} of class {policy.tolerance_class}"
    limit = f"ISO 2768-1 class {policy.tolerance_class} allows {shown}"
    if moved > allowed:
        return SizeJudgement(Weight.MAJOR, f"beyond the general tolerance {named}", limit, "beyond it")
    if moved < allowed * policy.tolerance_minor_share:
        return SizeJudgement(
            Weight.MINOR, f"a small part of the general tolerance {named}", limit, "a small part of it"
        )
    return SizeJudgement(
        Weight.MAJOR, "drawing limit not given", limit, "within it, but the drawing limit is not given"
    )


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
    held = f"drawing limit {named}"
    if not _inside(limit, after):
        return SizeJudgement(Weight.MAJOR, f"outside the drawing limit {named}", held, "outside it")
    if not _inside(limit, before):
        words = f"now inside the drawing limit {named}, outside it before"
        return SizeJudgement(Weight.MAJOR, words, held, "now inside it, outside it before")
    return SizeJudgement(Weight.MINOR, f"within the drawing limit {named}", held, "within it")


def limit_of(axis: str, size: Fraction, setup: Setup | None, policy: Policy, units: str) -> str:
    """What a size that stays as it is will be held against when it is measured, in words; "" where nothing is known."""
    drawn = drawing_limit_of(axis, size, setup, units)
    if drawn:
        return drawn
    table = radius_tolerance if axis == "R" else general_tolerance
    allowed = table(abs(size), policy.tolerance_class) if axis in ("X", "Z", "L", "R") else None
    if allowed is None:
        return ""
    return f"ISO 2768-1 class {policy.tolerance_class} allows ±{shop.millimetres(allowed, units)}"


def drawing_limit_of(axis: str, size: Fraction, setup: Setup | None, units: str) -> str:
    """The drawing limit of the setup sheet that a size is held against, in words; "" where there is none."""
    limit = _limit(axis, abs(size), abs(size), setup)
    if limit is None:
        return ""
    named = f" ({limit.note})" if limit.note else ""
    return f"drawing limit {shop.millimetres(abs(limit.nominal), units)} {_deviations(limit, units)}{named}"


def _deviations(limit: Limit, units: str) -> str:
    if limit.upper == -limit.lower:
        return f"±{shop.millimetres(limit.upper, units)}"
    return f"{_signed(limit.upper, units)} / {_signed(limit.lower, units)}"


def _signed(value: Fraction, units: str) -> str:
    return ("+" if value > 0 else "") + shop.millimetres(value, units)
