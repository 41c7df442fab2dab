"""What rules see: one executed program, or a change with its effects; and what they hand back."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property
from math import hypot

import numpy as np

from verifier.compare import Comparison, Difference, Edit, Effect, Item, Side
from verifier.control import TICKS_PER_MM, Sequence, Trace, layout
from verifier.findings.facts import Facts
from verifier.findings.model import Box, Place, Weight
from verifier.findings.ownership import Ownership, Share
from verifier.findings.policy import Policy
from verifier.findings.shop import lasting
from verifier.findings.spells import Spell, cutting, gathered_spells
from verifier.machines import Machine
from verifier.syntax import Block, Comment, Program


@dataclass(frozen=True, slots=True)
class Hazard:
    """What a program rule found: a sentence with numbers, the block, and what makes it the same hazard in another revision.

    `same_as` tells two hazards of one rule at one block apart; `effects` are blocks where it shows. `habit` is the sentence for several that are
    the same and of one status, with `{n}` for how many more there are: a habit of the program is one finding. The engine fills in, for a hazard
    that stood before, the blocks that it rested on in the base (`was`), and for a habit those that all of them rest on (`rests_on`). `box` is where
    in the half plane something is met.
    """

    block: int
    title: str
    same_as: str = ""
    weight: Weight | None = None
    before: str | None = None
    after: str | None = None
    effects: tuple[int, ...] = ()
    column: int = 1
    habit: str = ""
    was: tuple[int, ...] = ()
    rests_on: tuple[int, ...] = ()
    box: Box | None = None


@dataclass(frozen=True, slots=True)
class Drawn:
    """What a change rule found. `covers` are the effects it accounts for; `edits` the edits it is about (default: their causes)."""

    title: str
    covers: tuple[Effect, ...] = ()
    edits: tuple[int, ...] = ()
    before: str | None = None
    after: str | None = None
    weight: Weight | None = None
    effects: tuple[Place, ...] = ()
    extent: str = ""
    at: tuple[Place, ...] = ()
    """The places that did it, where they are no edits of words (notes, block numbers)."""


@dataclass(frozen=True)
class ProgramView:
    """One executed program as a rule sees it."""

    side: Side
    name: str
    policy: Policy

    @property
    def program(self) -> Program:
        """The program as read (for places and notes; what happens is in the trace)."""
        return self.side.program

    @property
    def trace(self) -> Trace:
        """What the machine does, block skips off."""
        return self.side.trace

    @cached_property
    def traces(self) -> tuple[tuple[str, Trace], ...]:
        """Every switch position that can matter, "" first (block skips off)."""
        return (("", self.side.trace), *self.side.switched)

    @cached_property
    def others(self) -> tuple[tuple[str, ProgramView], ...]:
        """The program under each other switch position that can matter, by its name."""
        return tuple(
            (position, ProgramView(replace(self.side, trace=trace), self.name, self.policy))
            for position, trace in self.side.switched
        )

    def under(self, position: str) -> ProgramView:
        """The program under one of its switch positions; "" and one that it has not: block skips off."""
        return dict(self.others).get(position, self)

    @property
    def machine(self) -> Machine:
        """The machine it runs on."""
        return self.side.machine

    @property
    def items(self) -> tuple[Item, ...]:
        """Its behaviour, block skips off, as compared."""
        return self.side.items()

    @property
    def units(self) -> str:
        """The unit system it is written in: "mm" or "inch"."""
        return self.side.trace.end_units or "mm"

    @property
    def sequences(self) -> tuple[Sequence, ...]:
        """Its sequences."""
        return self.side.sequences

    @cached_property
    def _by_block(self) -> dict[int, Sequence]:
        return {block: s for s in self.side.sequences for block in range(s.first, s.end)}

    def sequence_of(self, block: int) -> Sequence | None:
        """The sequence a block stands in."""
        return self._by_block.get(block)

    def main_block(self, item: Item) -> int:
        """The block of the main program an item comes from: its own, or the one that calls the subprogram it stands in."""
        block, caller, guard = item.block, item.caller, 64
        while caller > 0 and guard:
            calling, caller = self.trace.callers[caller]
            block, guard = calling if calling >= 0 else block, guard - 1
        return block

    @cached_property
    def spells_of_cuts(self) -> tuple[Spell, ...]:
        """Its cuts gathered by what is in force during them, block skips off."""
        return gathered_spells(self, cutting(self.trace))

    @cached_property
    def spells_of_moves(self) -> tuple[Spell, ...]:
        """The same of all its moves, rapids too."""
        return gathered_spells(self, np.arange(len(self.trace.moves)))

    @cached_property
    def _seconds(self) -> tuple[float, ...]:
        return tuple(self.side.times().moves.tolist())

    def seconds(self, item: Item) -> float:
        """The time of a stretch of path, block skips off; 0 where it is not known."""
        return sum(value for value in self._seconds[item.first : item.last + 1] if value == value)

    def sequence_at(self, item: Item) -> Sequence | None:
        """The sequence that makes an item: of what a called program does, the one that calls it."""
        block, caller = item.block, item.caller
        while caller > 0:
            calling, caller = self.trace.callers[caller]
            block = calling if calling >= 0 else block
        return self.sequence_of(block)

    def place(self, block: int, column: int = 1) -> Place:
        """A block as a place."""
        found = self.sequence_of(block)
        lines = self.program.columns.line
        line = int(lines[block]) if 0 <= block < len(lines) else 1  # a text of notes only has no block
        label = found.label if found else self._subprograms.get(block, "")
        return Place(self.name, block, line, column, found.index if found else None, label)

    @cached_property
    def _subprograms(self) -> dict[int, str]:
        """The number of the subprogram that each block behind the main program stands in."""
        units = layout(self.program).units[1:]
        return {block: f"O{u.number}" for u in units if u.number is not None for block in range(u.first, u.end)}

    def note_place(self, note: Comment) -> Place:
        """A note as a place; its block is the one on its line or the next one below."""
        lines = self.program.columns.line
        block = min(int(np.searchsorted(lines, note.line)), len(lines) - 1)
        found = self.sequence_of(block)
        return Place(
            self.name, block, note.line, note.column, found.index if found else None, found.label if found else ""
        )

    def block(self, index: int) -> Block:
        """A block as read."""
        return self.program.blocks[index]

    @cached_property
    def cuts(self) -> tuple[Item, ...]:
        """Items that may remove material: everything at a feed."""
        return tuple(item for item in self.items if item.cuts)


@dataclass(frozen=True)
class ChangeView:
    """A change as a rule sees it: the comparison, the policy, and both sides as programs."""

    comparison: Comparison
    policy: Policy
    old: ProgramView = field(init=False)
    new: ProgramView = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "old", ProgramView(self.comparison.old, "old", self.policy))
        object.__setattr__(self, "new", ProgramView(self.comparison.new, "new", self.policy))

    @property
    def units(self) -> str:
        """The unit system of the new program."""
        return self.new.units

    @property
    def edits(self) -> tuple[Edit, ...]:
        """All edits."""
        return self.comparison.edits.edits

    @cached_property
    def facts(self) -> Facts:
        """What is worked out once for all rules."""
        return Facts(self.comparison, self.policy)

    @cached_property
    def _ownership(self) -> Ownership:
        return Ownership(self.facts)

    def shares(self, rule: str) -> tuple[Share, ...]:
        """What a rule has to tell: the effects that are its own, by the edits behind them."""
        return self._ownership.shares(rule)

    def effects(self, *fields: str, left: bool | None = False) -> Iterator[Effect]:
        """The effects in these fields (`left`: those about the state left at the end; None: both)."""
        return (
            effect
            for effect in self.comparison.effects
            if effect.field in fields and (left is None or effect.left == left)
        )

    def reaching(self, side: str) -> Mapping[int, tuple[int, ...]]:
        """For each block of a side at which an effect shows, the edits behind the effects there."""
        return self._reaching[side]

    @cached_property
    def _reaching(self) -> dict[str, dict[int, tuple[int, ...]]]:
        found: dict[str, dict[int, dict[int, None]]] = {"old": {}, "new": {}}
        for effect in self.comparison.effects:
            causes = [edit for edit in effect.causes if edit >= 0]
            for difference in effect.differences:
                for name, item in (("old", difference.old), ("new", difference.new)):
                    if item is not None:
                        found[name].setdefault(item.block, {}).update(dict.fromkeys(causes))
        return {side: {block: tuple(edits) for block, edits in blocks.items()} for side, blocks in found.items()}

    def views(self) -> tuple[ProgramView, ProgramView]:
        """Both sides."""
        return self.old, self.new

    def places(self, effect: Effect, limit: int = 12) -> tuple[Place, ...]:
        """Where an effect shows: the first so many blocks, in the new program where they are still there."""
        found: dict[tuple[str, int], Place] = {}
        for difference in effect.differences:
            item, view = (difference.new, self.new) if difference.new is not None else (difference.old, self.old)
            if item is not None and (view.name, item.block) not in found:
                found[(view.name, item.block)] = view.place(item.block)
                if len(found) >= limit:
                    break
        return tuple(found.values())

    def cause_places(self, edits: Iterable[int]) -> tuple[Place, ...]:
        """The blocks of edits as places: new ones where there are any, else the old ones."""
        found: list[Place] = []
        for index in edits:
            if index < 0:
                continue
            edit = self.edits[index]
            found += [self.new.place(block) for block in edit.new] or [self.old.place(block) for block in edit.old]
        return tuple(found)

    def extent(self, effects: Iterable[Effect]) -> str:
        """How far effects reach, in words: moves, millimetres of cut, sequences."""
        moves, cut, seconds, labels = 0, 0.0, 0.0, set[tuple[int, str]]()
        effects = tuple(effects)
        for effect in effects:
            for difference in effect.differences:
                item, view = (difference.new, self.new) if difference.new is not None else (difference.old, self.old)
                if item is None or not item.is_move:
                    continue
                moves += 1
                cut += travelled(item) if item.cuts else 0.0
                seconds += view.seconds(item) if item.cuts and not effect.position else 0.0
                sequence = (
                    view.sequence_of(view.main_block(item)) if not effect.position else view.sequence_of(item.block)
                )
                if sequence is not None:
                    labels.add((sequence.index, sequence.label))
        if not moves:
            return ""
        parts = [f"{moves} move{'s' if moves > 1 else ''}"]
        if cut:
            parts.append(f"{cut:.0f} mm of cut" if self.units == "mm" else f"{cut / 25.4:.1f} in of cut")
        if seconds >= 0.5:
            parts.append(lasting(seconds))
        if labels:
            parts.append("in " + ", ".join(dict.fromkeys(label for _, label in sorted(labels))))
        return ", ".join((*parts, *self._not_with(effects)))

    def _not_with(self, effects: Iterable[Effect]) -> list[str]:
        """The other switch positions in which none of these effects is there."""
        keys = {effect.key for effect in effects if not effect.position}
        if not keys:
            return []
        return [f"not with {s.position}" for s in self.comparison.switched if keys.isdisjoint(e.key for e in s.effects)]


def travelled(item: Item) -> float:
    """The length of a stretch of path in mm (arcs: the chord's); 0 where an end is not known."""
    start, end = item.start, item.end
    if start.bx != end.bx or start.bz != end.bz:
        return 0.0
    return hypot(end.x - start.x, end.z - start.z) / TICKS_PER_MM


def where(item: Item | None) -> str:
    """A move in words for a sentence: its cycle step, or nothing."""
    return f" ({item.step})" if item is not None and item.step else ""


def values(effect: Effect) -> tuple[Fraction, Fraction] | None:
    """Both values of an effect where they are exact numbers."""
    if isinstance(effect.before, Fraction) and isinstance(effect.after, Fraction):
        return effect.before, effect.after
    return None


def item_of(difference: Difference) -> Item:
    """The new item of a difference, else the old one."""
    item = difference.new or difference.old
    assert item is not None
    return item


__all__ = [
    "ChangeView",
    "Comment",
    "Drawn",
    "Hazard",
    "ProgramView",
    "item_of",
    "travelled",
    "values",
    "where",
]
