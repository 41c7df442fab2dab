"""Features and their sizes in words, and how a changed size of one is judged."""

from __future__ import annotations

from fractions import Fraction

from verifier.findings import Policy, SizeJudgement, judge_angle, judge_radius, judge_size, judge_thread, shop
from verifier.geometry import Feature, FeaturePair, Size, SizePair
from verifier.machines import Setup

_THREAD = "thread"
_FINE, _ROUGH = 10_000, 100
"""A size is told to a ten thousandth of a millimetre; angles and fitted radii to a hundredth."""
_ROUNDED = {"A": _ROUGH, "R": _ROUGH}
_OPEN_TO = {"front": " in a front face", "back": " in a back face"}


def named(kind: str, where: str, dimension: str) -> str:
    """A feature and one of its sizes: "groove outside, bottom diameter"."""
    if kind == "profile":
        return "profile"
    said = "" if kind in ("hole", "spot hole") else f" {where}"
    told = kind + (_OPEN_TO.get(where, said) if kind == "groove" else said)
    return told if not dimension or dimension == kind else f"{told}, {dimension}"


def value_of(size: Size | None) -> Fraction | None:
    """A size as it is shown."""
    if size is None:
        return None
    digits = _ROUNDED.get(size.of, _FINE)
    return Fraction(round(size.value * digits), digits)


def shown(size: Size | None, units: str) -> str | None:
    """A size with its unit."""
    value = value_of(size)
    return None if size is None or value is None else _with_unit(size.of, value, units)


def _with_unit(of: str, value: Fraction, units: str) -> str:
    if of == "A":
        return f"{shop.decimal(value, 2)} degrees"
    return shop.decimal(value, 0) if of == "N" else shop.millimetres(value, units)


def changed(change: SizePair, units: str) -> tuple[str | None, str | None, str | None]:
    """A size before and after, and the difference with its sign."""
    before, after = value_of(change.old), value_of(change.new)
    moved = None
    if before is not None and after is not None and change.new is not None:
        moved = ("+" if after > before else "") + _with_unit(change.new.of, after - before, units)
    return shown(change.old, units), shown(change.new, units), moved


def summary(feature: Feature, units: str) -> str:
    """A feature by its sizes; one that has a single size by that alone."""
    if len(feature.sizes) == 1:
        return shown(feature.sizes[0], units) or ""
    return ", ".join(f"{size.name} {shown(size, units)}" for size in feature.sizes)


def millimetres(value: float, units: str, digits: int = _FINE) -> str:
    """A length in the program's unit."""
    return shop.millimetres(Fraction(round(value * digits), digits), units)


def box_of(z_from: float, z_to: float, r_from: float, r_to: float, units: str) -> str:
    """A place by its box."""
    z0, z1, d0, d1 = (millimetres(v, units, 1000) for v in (z_from, z_to, 2 * r_from, 2 * r_to))
    along = f"Z {z0}" if z0 == z1 else f"Z {z0} to {z1}"
    return f"{along}, diameter {d0}" if d0 == d1 else f"{along}, diameter {d0} to {d1}"


def place_of(feature: Feature, units: str) -> str:
    """Where a feature lies."""
    if feature.kind == "diameter":
        z0, z1 = (millimetres(v, units, 1000) for v in (feature.z_from, feature.z_to))
        return f"Z {z0} to {z1}"
    return box_of(*feature.box, units)


def judged(pair: FeaturePair, change: SizePair, setup: Setup | None, policy: Policy, units: str) -> SizeJudgement:
    """A changed size held against the drawing, else against the shop's class."""
    before, after = value_of(change.old), value_of(change.new)
    if before is None or after is None or change.old is None:
        return SizeJudgement.without_limit("it is new" if before is None else "it is gone")
    of, kind = change.old.of, pair.old.kind if pair.old is not None else ""
    if of == "P" or of == "N":
        return SizeJudgement.without_limit("a thread is judged by its gauge")
    if of == "X" and kind == _THREAD:
        return judge_thread(before, after, setup, units)
    if of == "R":
        return judge_radius(before, after, policy, units, setup)
    if of == "A":
        return judge_angle(before, after, _leg(pair.old), policy)
    return judge_size(of, before, after, setup, policy, units)


def _leg(feature: Feature | None) -> Fraction:
    """The shorter leg of an angle."""
    if feature is None:
        return Fraction(0)
    return Fraction(round(min(feature.z_to - feature.z_from, feature.r_to - feature.r_from) * 1000), 1000)
