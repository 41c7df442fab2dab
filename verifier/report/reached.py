"""Which other sequences a change reaches: by the surface they cut, a retract they start from, a called program, the stock that they meet."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from typing import Protocol

import numpy as np

from verifier.compare import Difference, Effect, Item
from verifier.findings import ChangeView, ProgramView
from verifier.report import feature_words
from verifier.report.here import owners, sequence_here
from verifier.report.part_made import Member, PartMade

_PATH = frozenset(("x", "z", "arc", "kind", "added", "removed", "order", "tool", "offset", "compensation", "frame"))
"""Fields whose difference changes what is left of the stock."""
_LEAST_STOCK, _LEAST_SHARE = 0.5, 1e-4
"""A sequence meets another stock where it takes off more, or less, by so many mm3 and by such a share of it."""

Box = tuple[int, int, int, int]
"""Least and greatest X radius, least and greatest Z, in ticks."""
Reason = tuple[int, str]


class Numbers(Protocol):
    """What is asked about the moves of the revision."""

    def leaves(self, index: int, item: Item) -> bool:
        """Whether a move lies behind the last cut of its sequence."""

    def touching(self, boxes: Sequence[Box | None]) -> list[int]:
        """The sequences with a cut near one of the boxes."""


def reached(change: ChangeView, numbers: Numbers) -> Iterator[Reason]:
    """Sequences that cut, later in the run, where something is cut otherwise now, and those entered from a changed retract."""
    cuts: dict[int, list[Box | None]] = {}
    last = len(change.new.sequences) - 1
    for effect in change.comparison.effects:
        for d in effect.differences if effect.field in _PATH and not effect.position else ():
            for view, item in ((change.old, d.old), (change.new, d.new)):
                if item is None or not item.is_move:
                    continue
                home = sequence_here(change, view, view.main_block(item))
                if item.cuts and home is not None:
                    cuts.setdefault(home, []).append(_box(d, item))
                elif effect.field == "kind" and _was_cut(d) and not change.facts.in_cycle(effect):
                    if home is not None and home < last:
                        yield (
                            home + 1,
                            f"comes after {change.new.sequences[home].label}, which makes a cut at rapid now",
                        )
                elif home is not None and view is change.new and home < last and numbers.leaves(home, item):
                    label = change.new.sequences[home].label
                    yield home + 1, f"its first approach comes after the changed retract of {label}"
    for home, boxes in cuts.items():
        for index in numbers.touching(boxes):
            if index > home:
                label = change.new.sequences[home].label
                yield index, f"cuts a surface that {label} cuts otherwise now"


def _was_cut(difference: Difference) -> bool:
    """Whether a cut is a rapid now: no retract, whatever it ends."""
    old, new = difference.old, difference.new
    return old is not None and new is not None and old.cuts and new.kind == "rapid"


def _box(difference: Difference, item: Item) -> Box | None:
    """Where a cut differs: a straight cut along one axis that only ends elsewhere differs between its two ends; None where not known."""
    places = [item.start, item.end]
    old, new = difference.old, difference.new
    if difference.field in ("x", "z") and old is not None and new is not None and old.start == new.start:
        start, ends = new.start, (old.end, new.end)
        along_z = difference.field == "z" and all(end.x == start.x for end in ends)
        along_x = difference.field == "x" and all(end.z == start.z for end in ends)
        places = list(ends) if along_z or along_x else places
    if any(place.bx or place.bz for place in places):
        return None
    xs, zs = [place.x for place in places], [place.z for place in places]
    return min(xs), max(xs), min(zs), max(zs)


def of_called(change: ChangeView) -> Iterator[Reason]:
    """Everything behind the first call of a program that is changed itself."""
    calls = [
        change.new.main_block(d.new)
        for effect in change.comparison.effects
        if not effect.position and not effect.left and _in_called(change, effect)
        for d in effect.differences
        if d.new is not None and d.new.caller > 0
    ]
    for sequence in change.new.sequences if calls else ():
        if sequence.end > min(calls):
            yield sequence.index, "comes after a called program that is changed"


def _in_called(change: ChangeView, effect: Effect) -> bool:
    """Whether an edit behind an effect stands in a called program: behind all sequences of its text."""
    for view, side in ((change.old, "old"), (change.new, "new")):
        end = max((sequence.end for sequence in view.sequences), default=0)
        edits = [change.comparison.edit(index) for index in effect.causes if index >= 0]
        blocks = [block for edit in edits for block in (edit.old if side == "old" else edit.new)]
        if any(block >= end for block in blocks):
            return True
    return False


def of_stock(change: ChangeView, known: Collection[int]) -> Iterator[Reason]:
    """Sequences that take off another amount though nothing is changed in them: their stock on entry is another."""
    before, after = _removed(change, change.old), _removed(change, change.new)
    if before is None or after is None:
        return
    for index in sorted(after):
        was, now = before.get(index, 0.0), after[index]
        if index not in known and abs(now - was) > max(_LEAST_STOCK, _LEAST_SHARE * max(was, now)):
            yield index, f"meets another stock: takes off {now:.0f} mm3, before {was:.0f} mm3"


def _removed(change: ChangeView, view: ProgramView) -> dict[int, float] | None:
    """What each sequence of the revision (or what stood for it in the base) takes off, mm3; None where no part is computed."""
    part = view.side.part()
    if part is None or not len(view.trace.moves):
        return None
    of_row = owners(view)
    found: dict[int, float] = {}
    for own in view.sequences:
        here = own.index if view is change.new else sequence_here(change, view, own.first)
        if here is not None:
            found[here] = found.get(here, 0.0) + float(part.volume[np.flatnonzero(of_row == own.index)].sum())
    return found


def of_part(made: PartMade | None, known: Collection[int]) -> Iterator[Reason]:
    """Sequences that leave a feature that changed, though nothing else puts them on the list."""
    for member in made.members if made is not None else ():
        for index in member.sequences if member.changed else ():
            if index not in known:
                yield index, f"leaves what is changed: {_named(member)}"


def _named(member: Member) -> str:
    return feature_words.named(member.pair.either.kind, member.pair.either.where, "")


def measured(change: ChangeView, made: PartMade, index: int) -> tuple[str, ...]:
    """The features that a sequence leaves, in words: what changed first."""
    own = [member for member in made.members if index in member.sequences and member.pair.new is not None]
    ordered: Iterable[Member] = (*(m for m in own if m.changed), *(m for m in own if not m.changed))
    return tuple(_told(change, member) for member in ordered)


def _told(change: ChangeView, member: Member) -> str:
    feature, units = member.pair.either, change.units
    place = feature_words.place_of(feature, units) + (f", only with {member.position}" if member.position else "")
    told = f"{_named(member)} at {place}: {feature_words.summary(feature, units)}"
    was = [
        f"{change_.old.name} was {feature_words.shown(change_.old, units)}"
        for change_ in member.pair.changes()
        if change_.old is not None
    ]
    new = ["new"] if member.changed and member.pair.old is None else []
    limits = feature_words.limits(member.pair, change.new.side.setup, change.policy, units, drawing_only=True)
    more = "; ".join((*was, *new, *([limits] if limits else [])))
    return f"{told} ({more})" if more else told
