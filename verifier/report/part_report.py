"""The finished part before and after: whether it is the same, and each size of a feature that changed, judged."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from verifier.compare import Comparison, Side
from verifier.findings import Policy
from verifier.geometry import (
    Feature,
    FeaturePair,
    Strip,
    TurnedPart,
    changed_features,
    features,
    features_of_both,
    same_part,
    untold,
)
from verifier.machines import Setup
from verifier.report import feature_words


@dataclass(frozen=True, slots=True)
class FeatureRow:
    """One size of a feature to measure: `before`, `after`, `difference` with their unit (None: not there), where it lies, how it is judged.

    `feature` counts the features, so that sizes of one stand together; `dimension` names the size, "" where the feature as a whole is new, gone
    or, of a program without a base, told. `limit` is what the change was held against, "" for nothing. `weight` is None where nothing was judged.
    """

    feature: int
    kind: str
    where: str
    dimension: str
    before: str | None
    after: str | None
    difference: str | None
    place: str
    limit: str
    judgement: str
    weight: str | None

    @property
    def judged(self) -> str:
        """How it is judged and by what, in words."""
        return f"{self.limit}: {self.judgement}" if self.limit else self.judgement

    @property
    def name(self) -> str:
        """The feature and its size in words."""
        return feature_words.named(self.kind, self.where, self.dimension)


@dataclass(frozen=True, slots=True)
class PartReport:
    """The part: whether every cut of each side was swept, the volume taken off in mm3, and the sizes of its features.

    Of a change only sizes that changed, of a program without a base all features.
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
    if before is None:
        rows = [_whole(number, feature, units) for number, feature in enumerate(features(after))]
    else:
        rows = _changed(before, after, new.setup, policy, units)
        if not rows and not same_part(before, after):
            said = "no size of a feature says how; look at the picture and measure the whole part"
            rows = [FeatureRow(0, "profile", "", "", None, None, None, "the whole part", "", said, "major")]
    return PartReport(
        before.certain if before is not None else None,
        after.certain,
        _volume(before) if before is not None else None,
        _volume(after),
        tuple(rows),
    )


def _volume(part: TurnedPart) -> str:
    return f"{float(part.volume.sum()):.0f}"


def _changed(old: TurnedPart, new: TurnedPart, setup: Setup | None, policy: Policy, units: str) -> list[FeatureRow]:
    pairs = changed_features(*features_of_both(old, new))
    rows = [row for number, pair in enumerate(pairs) for row in _rows(number, pair, setup, policy, units)]
    strips = untold(old, new, pairs)
    return rows + [_strip(len(pairs) + k, strip, units) for k, strip in enumerate(strips)]


def _rows(number: int, pair: FeaturePair, setup: Setup | None, policy: Policy, units: str) -> Iterator[FeatureRow]:
    """A feature's changed sizes; one that is gone or new as a whole."""
    some = pair.new or pair.old
    assert some is not None
    place = feature_words.place_of(some, units)
    if pair.old is None or pair.new is None:
        before, after = (feature_words.summary(f, units) if f is not None else None for f in (pair.old, pair.new))
        said = "it is new" if before is None else "it is gone"
        yield FeatureRow(number, some.kind, some.where, "", before, after, None, place, "", said, "major")
        return
    for change in pair.changes():
        size = change.new or change.old
        assert size is not None
        told = feature_words.changed(change, units)
        judged = feature_words.judged(pair, change, setup, policy, units)
        yield FeatureRow(
            number, some.kind, some.where, size.name, *told, place, judged.limit, judged.verdict, str(judged.weight)
        )


def _whole(number: int, feature: Feature, units: str) -> FeatureRow:
    told, place = feature_words.summary(feature, units), feature_words.place_of(feature, units)
    return FeatureRow(number, feature.kind, feature.where, "", None, told, None, place, "", "", None)


def _strip(number: int, strip: Strip, units: str) -> FeatureRow:
    """A difference that no feature tells: never silent."""
    place = feature_words.box_of(strip.z_from, strip.z_to, strip.r_from, strip.r_to, units)
    thick = feature_words.millimetres(strip.thick, units, 1000)
    said = "no feature is recognised there; look at the picture and measure it"
    return FeatureRow(number, "profile", "", "", None, None, f"about {thick} thick", place, "", said, "major")
