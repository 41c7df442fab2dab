"""The finished part before and after: whether it is the same, each size of a feature that changed, judged, and what to measure for it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from verifier.compare import Comparison
from verifier.geometry import TurnedPart, same_part
from verifier.report import feature_words


@dataclass(frozen=True, slots=True)
class FeatureRow:
    """One size of a feature to measure: `before`, `after`, `difference` with their unit (None: not there), where it lies, how it is judged.

    `feature` counts the features, so that sizes of one stand together; `dimension` names the size, "" where the feature as a whole is new, gone
    or, of a program without a base, told. `limit` is what the change was held against, "" for nothing. `weight` is None where nothing was judged.
    `edits` are the edits that moved it, by index.
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
    edits: tuple[int, ...] = field(default=(), compare=False)

    @property
    def judged(self) -> str:
        """How it is judged and by what, in words."""
        return f"{self.limit}: {self.judgement}" if self.limit else self.judgement

    @property
    def feature_name(self) -> str:
        """The feature alone."""
        return feature_words.named(self.kind, self.where, "")

    @property
    def name(self) -> str:
        """The feature and its size in words."""
        return feature_words.named(self.kind, self.where, self.dimension)


@dataclass(frozen=True, slots=True)
class ToMeasure:
    """A feature to measure on the first piece: its name, its sizes as they should be now, where, what they are held against, and why.

    `sequences` are the labels of those that leave it.
    """

    name: str
    sizes: str
    place: str
    limit: str
    sequences: tuple[str, ...]
    why: str


@dataclass(frozen=True, slots=True)
class PartReport:
    """The part: whether every cut of each side was swept, the volume taken off in mm3, and the sizes of its features.

    Of a change only sizes that changed, of a program without a base all features. `measure`: the features that changed or that a changed
    sequence cuts.
    """

    certain_before: bool | None
    certain_after: bool
    removed_before: str | None
    removed_after: str
    features: tuple[FeatureRow, ...]
    measure: tuple[ToMeasure, ...] = ()


def part_level(comparison: Comparison) -> str:
    """Whether the part is the same: "same", "changed", "undetermined", "not computed"; the worst over all switch positions."""
    levels = {_level(old, new) for _, old, new in positions(comparison)}
    order = ("not computed", "changed", "undetermined", "same")
    found = next(level for level in order if level in levels)
    return "undetermined" if found == "same" and comparison.verdict == "undetermined" else found


def positions(comparison: Comparison) -> Iterator[tuple[str, TurnedPart | None, TurnedPart | None]]:
    """The parts of both sides under each position of the switches, "" for the block skips off."""
    old, new = comparison.old, comparison.new
    yield "", old.part(), new.part()
    for (name, before), (_, after) in zip(old.switched, new.switched, strict=False):
        yield name, replace(old, trace=before).part(), replace(new, trace=after).part()


def _level(old: TurnedPart | None, new: TurnedPart | None) -> str:
    if old is None or new is None:
        return "not computed"
    if not old.certain or not new.certain:
        return "undetermined"
    return "same" if same_part(old, new) else "changed"
