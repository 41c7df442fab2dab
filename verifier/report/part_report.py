"""The finished part before and after: whether it is the same, and each feature whose size changed, judged."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from verifier.compare import Comparison, Side
from verifier.findings import Policy, SizeJudgement, judge_angle, judge_radius, judge_size, shop
from verifier.geometry import Feature, FeaturePair, TurnedPart, changed_features, features, same_part, thread_features
from verifier.machines import Setup

_SHOWN = {"diameter": "X", "face": "Z"}


@dataclass(frozen=True, slots=True)
class FeatureRow:
    """A feature to measure: `before`, `after`, `difference` with their unit (None: not there), where it lies, how its change is judged.

    `weight` is None where nothing was judged (a part without a base).
    """

    kind: str
    where: str
    before: str | None
    after: str | None
    difference: str | None
    place: str
    judgement: str
    weight: str | None


@dataclass(frozen=True, slots=True)
class PartReport:
    """The part: whether every cut of each side was swept, the volume taken off in mm3, and its features.

    Of a change only features that changed, of a program without a base all of them.
    """

    certain_before: bool | None
    certain_after: bool
    removed_before: str | None
    removed_after: str
    features: tuple[FeatureRow, ...]


def part_level(comparison: Comparison) -> str:
    """Whether the part is the same: "same", "changed", "undetermined", "not computed"; the worst over all switch positions."""
    levels = {_level(old, new) for old, new in _positions(comparison)}
    order = ("not computed", "changed", "undetermined", "same")
    found = next(level for level in order if level in levels)
    return "undetermined" if found == "same" and comparison.verdict == "undetermined" else found


def _positions(comparison: Comparison) -> Iterator[tuple[TurnedPart | None, TurnedPart | None]]:
    old, new = comparison.old, comparison.new
    yield old.part(), new.part()
    for (_, before), (_, after) in zip(old.switched, new.switched, strict=False):
        yield replace(old, trace=before).part(), replace(new, trace=after).part()


def _level(old: TurnedPart | None, new: TurnedPart | None) -> str:
    if old is None or new is None:
        return "not computed"
    if not old.certain or not new.certain:
        return "undetermined"
    return "same" if same_part(old, new) else "changed"


def part_report(old: Side | None, new: Side, policy: Policy) -> PartReport | None:
    """The part with the block skips off; None where it is not computed."""
    after, before = new.part(), old.part() if old is not None else None
    if after is None or (old is not None and before is None):
        return None
    units = new.trace.end_units or "mm"
    now = _features(after)
    if before is None:
        rows = tuple(_row(FeaturePair(None, feature), new.setup, policy, units) for feature in now)
    else:
        pairs = changed_features(_features(before), now)
        rows = tuple(_row(pair, new.setup, policy, units) for pair in pairs)
    return PartReport(
        before.certain if before is not None else None,
        after.certain,
        _volume(before) if before is not None else None,
        _volume(after),
        tuple(row if before is not None else replace(row, judgement="", weight=None) for row in rows),
    )


def _features(part: TurnedPart) -> tuple[Feature, ...]:
    return features(part.left, part.stock) + thread_features(part.threads)


def _volume(part: TurnedPart) -> str:
    return f"{float(part.volume.sum()):.0f}"


def _row(pair: FeaturePair, setup: Setup | None, policy: Policy, units: str) -> FeatureRow:
    some = pair.new or pair.old
    assert some is not None
    before, after = (_size(feature) for feature in (pair.old, pair.new))
    judged = _judged(some.kind, before, after, pair, setup, policy, units)
    return FeatureRow(
        some.kind,
        some.where,
        _shown(some.kind, before, units),
        _shown(some.kind, after, units),
        _shown(some.kind, after - before, units) if before is not None and after is not None else None,
        _place(some, units),
        judged.words,
        str(judged.weight),
    )


def _size(feature: Feature | None) -> Fraction | None:
    """A size as people read it: to a ten thousandth of a millimetre; angles and fitted radii to a hundredth."""
    if feature is None:
        return None
    digits = 100 if feature.kind in ("taper", "radius", "thread taper") else 10_000
    return Fraction(round(feature.size * digits), digits)


def _shown(kind: str, size: Fraction | None, units: str) -> str | None:
    if size is None:
        return None
    return f"{shop.decimal(size, 2)} degrees" if kind.endswith("taper") else shop.millimetres(size, units)


def _judged(
    kind: str,
    before: Fraction | None,
    after: Fraction | None,
    pair: FeaturePair,
    setup: Setup | None,
    policy: Policy,
    units: str,
) -> SizeJudgement:
    if before is None or after is None:
        return SizeJudgement.without_limit("it is new" if before is None else "it is gone")
    if kind in _SHOWN:
        return judge_size(_SHOWN[kind], before, after, setup, policy, units)
    if kind.startswith("thread"):
        return SizeJudgement.without_limit("a thread is judged by its gauge; drawing limit not given")
    if kind == "taper":
        assert pair.old is not None
        leg = Fraction(round(min(pair.old.z_to - pair.old.z_from, pair.old.r_to - pair.old.r_from) * 1000), 1000)
        return judge_angle(before, after, leg, policy)
    return judge_radius(before, after, policy, units)


def _place(feature: Feature, units: str) -> str:
    def mm(value: float) -> str:
        return shop.millimetres(Fraction(round(value * 1000), 1000), units)

    along = f"Z {mm(feature.z_from)}" if feature.kind == "face" else f"Z {mm(feature.z_from)} to {mm(feature.z_to)}"
    if feature.kind == "diameter":
        return along
    return f"{along}, diameter {mm(2 * feature.r_from)} to {mm(2 * feature.r_to)}"
