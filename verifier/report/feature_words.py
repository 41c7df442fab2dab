"""Features and their sizes in words, and how a changed size of one is judged."""

from __future__ import annotations

from fractions import Fraction

from verifier.findings import (
    Policy,
    SizeJudgement,
    drawing_limit_of,
    judge_angle,
    judge_radius,
    judge_size,
    judge_thread,
    limit_of,
    shop,
)
from verifier.geometry import Feature, FeaturePair, Size, SizePair
from verifier.machines import Setup

_THREAD = "thread"
_FINE, _ROUGH = 10_000, 100
"""A size is told to a ten thousandth of a millimetre; angles and fitted radii to a hundredth."""
_ROUNDED = {"A": _ROUGH, "R": _ROUGH}
_NAMES = {
    ("face", "front"): "front face",
    ("face", "back"): "back face",
    ("shoulder", "front"): "shoulder",
    ("shoulder", "back"): "back shoulder",
    ("groove", "front"): "groove in a front face",
    ("groove", "back"): "groove in a back face",
    ("hole", "inside"): "hole",
    ("spot hole", "inside"): "spot hole",
}
_BY_SIDE = ("outside", "inside")


def named(kind: str, where: str, dimension: str) -> str:
    """A feature and one of its sizes: "outside groove, bottom diameter"."""
    told = _NAMES.get((kind, where), f"{where} {kind}" if where in _BY_SIDE else kind)
    return told if dimension in ("", kind) else f"{told}, {dimension}"


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
        return ("Z " if feature.sizes[0].of == "Z" else "") + (shown(feature.sizes[0], units) or "")
    return ", ".join(f"{size.name} {shown(size, units)}" for size in feature.sizes)


def millimetres(value: float, units: str, digits: int = _FINE) -> str:
    """A length in the program's unit."""
    return shop.millimetres(Fraction(round(value * digits), digits), units)


def box_of(z_from: float, z_to: float, r_from: float, r_to: float, units: str) -> str:
    """A place by its box."""
    return f"{_range('Z ', z_from, z_to, units)}, {_range('Ø', 2 * r_from, 2 * r_to, units)}"


def place_of(feature: Feature, units: str) -> str:
    """Where a feature lies, as far as its own sizes do not tell."""
    z_from, z_to, r_from, r_to = feature.box
    if feature.kind in ("diameter", "thread") or (feature.kind == "groove" and feature.where in _BY_SIDE):
        return _range("Z ", z_from, z_to, units)
    return box_of(z_from, z_to, r_from, r_to, units)


def _range(sign: str, low: float, high: float, units: str) -> str:
    """A place along an axis, the unit once."""
    one, other = (millimetres(v, units, 1000) for v in (low, high))
    return f"{sign}{one}" if one == other else f"{sign}{one.partition(' ')[0]} to {other}"


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


def limits(pair: FeaturePair, setup: Setup | None, policy: Policy, units: str, *, drawing_only: bool = False) -> str:
    """What the sizes of a feature are held against when they are measured: the drawing's own limits, else the class for its first size.

    A size that an edit took out of its limit is still held against it.
    """
    feature = pair.either
    found: list[str] = []
    for size in feature.sizes if setup is not None and setup.limits else ():
        before = pair.old.size(size.name) if pair.old is not None else None
        told = [
            drawing_limit_of(one.of, value, setup, units)
            for one in (size, before)
            if one and (value := value_of(one)) is not None
        ]
        found += [text for text in told if text][:1]
    if not found and not drawing_only and feature.kind != _THREAD:
        value = value_of(feature.sizes[0])
        told = [limit_of(feature.sizes[0].of, value, setup, policy, units)] if value is not None else []
        found += [text for text in told if text]
    return "; ".join(dict.fromkeys(found))
