"""How the part of a report is made: features of both sides paired, judged, led back to edits and to the sequences that leave them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from verifier.compare import Side
from verifier.findings import ChangeView, Policy, ProgramView
from verifier.geometry import (
    Feature,
    FeaturePair,
    Strip,
    TurnedPart,
    features,
    features_of_both,
    paired_features,
    same_part,
    surface_moves,
    untold,
)
from verifier.machines import Setup
from verifier.report import feature_words
from verifier.report.here import owners, sequence_here
from verifier.report.part_causes import Box, PartCauses
from verifier.report.part_report import FeatureRow, PartReport, ToMeasure, positions

Owners = dict[Feature | None, tuple[int, ...]]


@dataclass(frozen=True, slots=True)
class Member:
    """A feature of the finished part, or one that is gone: `sequences` of the revision leave it (or stand where its own was).

    `position` is that of the switches in which alone the part has it so, "" for the block skips off.
    """

    pair: FeaturePair
    changed: bool
    sequences: tuple[int, ...]
    position: str = ""


@dataclass(frozen=True, slots=True)
class PartMade:
    """The report's part, all features behind it, and for each row of the report the boxes of its feature before and after."""

    report: PartReport
    members: tuple[Member, ...]
    boxes: tuple[tuple[Box, ...], ...]


@dataclass(frozen=True, slots=True)
class _Given:
    """What sizes are judged by and told in."""

    setup: Setup | None
    policy: Policy
    units: str


def part_of_program(side: Side, units: str) -> PartReport | None:
    """The part of a program without a base: all its features, nothing judged."""
    after = side.part()
    if after is None:
        return None
    rows = tuple(_whole(number, feature, units) for number, feature in enumerate(features(after)))
    return PartReport(None, after.certain, None, _volume(after), rows)


def part_of_change(change: ChangeView, policy: Policy) -> PartMade | None:
    """The part of a change, with the block skips off; where only another position of a switch changes it, that is told, too."""
    (_, before, after), *others = positions(change.comparison)
    if before is None or after is None:
        return None
    given = _Given(change.new.side.setup, policy, change.units)
    pairs = paired_features(*features_of_both(before, after))
    changed = [pair for pair in pairs if pair.differs]
    cutters = _Cutters(change, change.old, change.new, pairs)
    rows, boxes = _rows_of(before, after, changed, given, PartCauses(change.comparison), cutters)
    members = [cutters.member(pair) for pair in pairs]
    for k, (position, one, other) in enumerate(others):
        if one is None or other is None:
            continue
        differ, elsewhere = not same_part(one, other), not (same_part(one, before) and same_part(other, after))
        pairs = paired_features(*features_of_both(one, other)) if differ or elsewhere else ()
        if differ:
            rows += _elsewhere(position, pairs, given, rows)
        if elsewhere:
            members += _members_elsewhere(change, k, position, pairs, members)
    report = PartReport(before.certain, after.certain, _volume(before), _volume(after), tuple(rows))
    return PartMade(report, tuple(members), tuple(boxes))


def _volume(part: TurnedPart) -> str:
    return f"{float(part.volume.sum()):.0f}"


# -- the rows of the report -------------------------------------------------------------------------------------------------


def _rows_of(
    before: TurnedPart,
    after: TurnedPart,
    pairs: Sequence[FeaturePair],
    given: _Given,
    causes: PartCauses,
    cutters: _Cutters,
) -> tuple[list[FeatureRow], list[tuple[Box, ...]]]:
    rows: list[FeatureRow] = []
    boxes: list[tuple[Box, ...]] = []
    for number, pair in enumerate(pairs):
        there = [f.box for f in (pair.old, pair.new) if f is not None]
        edits = causes.of(cutters.moves(pair), there[-1])
        found = [replace(row, edits=edits) for row in _rows(number, pair, given)]
        rows += found
        boxes += [tuple(there)] * len(found)
    for strip in untold(before, after, pairs):
        box = strip.z_from, strip.z_to, strip.r_from, strip.r_to
        rows.append(replace(_strip(_next(rows), strip, given.units), edits=causes.of(((), ()), box)))
        boxes.append((box,))
    if not rows and not same_part(before, after):
        rows, boxes = [_unnamed()], [()]
    return rows, boxes


def _next(rows: Sequence[FeatureRow]) -> int:
    return rows[-1].feature + 1 if rows else 0


def _rows(number: int, pair: FeaturePair, given: _Given) -> Iterator[FeatureRow]:
    """A feature's changed sizes; one that is gone or new as a whole."""
    some, units = pair.either, given.units
    place = feature_words.place_of(some, units)
    if pair.old is None or pair.new is None:
        before, after = (feature_words.summary(f, units) if f is not None else None for f in (pair.old, pair.new))
        said = "it is new" if before is None else "it is gone"
        yield FeatureRow(number, some.kind, some.where, "", before, after, None, place, "", said, "major")
        return
    for change in pair.changes():
        # A hole of which a spot is left: what the one had is gone, and is told by its name.
        some = pair.old if change.new is None else pair.new
        told = feature_words.changed(change, units)
        judged = feature_words.judged(pair, change, given.setup, given.policy, units)
        yield FeatureRow(
            number,
            some.kind,
            some.where,
            change.either.name,
            *told,
            feature_words.place_of(some, units),
            judged.limit,
            judged.verdict,
            str(judged.weight),
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


def _unnamed() -> FeatureRow:
    said = "no size of a feature says how; look at the picture and measure the whole part"
    return FeatureRow(0, "profile", "", "", None, None, None, "the whole part", "", said, "major")


def _elsewhere(
    position: str, pairs: Iterable[FeaturePair], given: _Given, there: Sequence[FeatureRow]
) -> list[FeatureRow]:
    """What changes only in another position of the switches."""
    told = {(row.name, row.before, row.after, row.place) for row in there}
    found = [
        replace(row, place=f"{row.place}, only with {position}")
        for pair in pairs
        if pair.differs
        for row in _rows(0, pair, given)
        if (row.name, row.before, row.after, row.place) not in told
        and (row.name, row.before, row.after, f"{row.place}, only with {position}") not in told
    ]
    return [replace(row, feature=_next(there) + k) for k, row in enumerate(found)]


# -- what to measure --------------------------------------------------------------------------------------------------------


class _Cutters:
    """The moves that left the features of two parts, and the sequences that these belong to."""

    def __init__(self, change: ChangeView, old: ProgramView, new: ProgramView, pairs: Iterable[FeaturePair]) -> None:
        self._change, self._old, self._new = change, old, new
        # Of the base only the moves of a feature that changed or is gone are asked for.
        self._before = _owners(old, [pair.old for pair in pairs if pair.old is not None and pair.differs])
        self._after = _owners(new, [pair.new for pair in pairs if pair.new is not None])
        self._of_row = owners(new)

    def moves(self, pair: FeaturePair) -> tuple[tuple[int, ...], tuple[int, ...]]:
        """The moves of both sides that left a feature that changed."""
        return self._before.get(pair.old, ()), self._after.get(pair.new, ())

    def member(self, pair: FeaturePair, position: str = "") -> Member:
        """A feature with the sequences that leave it; of one that is gone, with those where its own was."""
        before, after = self.moves(pair)
        found: set[int | None]
        if pair.new is not None:
            found = {index for row in after if (index := int(self._of_row[row])) >= 0}
        else:
            blocks = {int(self._old.trace.moves.block[row]) for row in before}
            found = {sequence_here(self._change, self._change.old, block) for block in blocks}
        return Member(pair, pair.differs, tuple(sorted(index for index in found if index is not None)), position)


def _owners(view: ProgramView, found: Sequence[Feature]) -> Owners:
    side = view.side
    return dict(zip(found, surface_moves(side.trace, side.machine, side.setup, found), strict=True))


def _members_elsewhere(
    change: ChangeView, number: int, position: str, pairs: Sequence[FeaturePair], there: Sequence[Member]
) -> Iterator[Member]:
    """The features that the revision's part has in another position of the switches alone."""
    one, other = (
        replace(view, side=replace(view.side, trace=view.side.switched[number][1])) for view in (change.old, change.new)
    )
    cutters = _Cutters(change, one, other, pairs)
    known = {(member.pair.new, member.changed) for member in there}
    for pair in pairs:
        member = cutters.member(pair, position)
        if pair.new is not None and (pair.new, member.changed) not in known:
            yield member


def to_measure(change: ChangeView, policy: Policy, made: PartMade, affected: Iterable[int]) -> tuple[ToMeasure, ...]:
    """The features that changed, and those that a sequence on the prove-out list leaves; of a changed profile without one, its place."""
    wanted = set(affected)
    found = [
        _to_measure(change, policy, member, wanted)
        for member in made.members
        if member.pair.new is not None and (member.changed or wanted.intersection(member.sequences))
    ]
    unnamed = [row for row in made.report.features if row.kind == "profile"]
    return (*found, *(ToMeasure(row.name, "as the drawing has it", row.place, "", (), "it changed") for row in unnamed))


def _to_measure(change: ChangeView, policy: Policy, member: Member, affected: set[int]) -> ToMeasure:
    feature, units = member.pair.either, change.units
    labels = {sequence.index: sequence.label for sequence in change.new.sequences}
    cutters = tuple(labels[index] for index in member.sequences)
    by = [labels[index] for index in member.sequences if index in affected]
    why = (
        ("it changed" if member.pair.old is not None else "it is new")
        if member.changed
        else f"{', '.join(by)} cut{'s' if len(by) == 1 else ''} it"
    )
    limits = feature_words.limits(member.pair, change.new.side.setup, policy, units)
    name = feature_words.named(feature.kind, feature.where, "")
    place = feature_words.place_of(feature, units) + (f", only with {member.position}" if member.position else "")
    return ToMeasure(name, feature_words.summary(feature, units), place, limits, cutters, why)
