"""What is worked out once about a change, for all rules: words of edits, paths, cycles that pair, sequences that came or went."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from verifier.compare import Comparison, Difference, Effect, Item, Side
from verifier.control import Amount, CycleCall, Sequence, Trace, meant
from verifier.findings.clearance import Clearance, clearance
from verifier.findings.paths import Path
from verifier.findings.policy import Policy
from verifier.findings.words import WordFacts, facts_of

_GONE = 0.8
"""A sequence came or went when so great a part of the blocks that cut in it has no partner, and its tool call has none."""

NOT_EXECUTED = ("event:unexecuted", "event:unreadable")
"""Kinds of items that stand for what could not be executed."""


@dataclass(frozen=True, slots=True)
class AmountChange:
    """One amount of a cycle before and after (None: not given there)."""

    name: str
    before: Amount | None
    after: Amount | None


@dataclass(frozen=True, slots=True)
class CyclePair:
    """A cycle called on both sides: its amounts that differ, the edits behind them, and whether its contour is made of other blocks."""

    index: int
    old: CycleCall
    new: CycleCall
    amounts: tuple[AmountChange, ...]
    edits: tuple[int, ...]
    moved_labels: bool


class Facts:
    """The facts of one change."""

    def __init__(self, comparison: Comparison, policy: Policy) -> None:
        self.comparison = comparison
        self.policy = policy
        self._paths: dict[str, tuple[Path, Path]] = {}
        self._pairs: dict[str, tuple[CyclePair, ...]] = {}
        self._direct: dict[int, tuple[Difference | None]] = {}

    @cached_property
    def words(self) -> tuple[WordFacts, ...]:
        """For each edit what its words tell."""
        old, new = self.comparison.old.program.blocks, self.comparison.new.program.blocks
        machines = self.comparison.old.machine, self.comparison.new.machine
        return tuple(
            facts_of(edit, (old[k] for k in edit.old), (new[k] for k in edit.new), machines)
            for edit in self.comparison.edits.edits
        )

    def words_of(self, effect: Effect) -> tuple[WordFacts, ...]:
        """The word facts of the edits behind an effect."""
        return tuple(self.words[k] for k in effect.causes if k >= 0)

    def block_has(self, side: int, block: int, codes: tuple[str, ...]) -> bool:
        """Whether a block of one side (0 old, 1 new) holds one of these G codes, by their meaning."""
        on = (self.comparison.old, self.comparison.new)[side]
        words = on.program.blocks[block].words if 0 <= block < len(on.program.blocks) else ()
        return any(w.letter == "G" and meant(w, on.machine) in codes for w in words)

    def edit_has(self, index: int, codes: tuple[str, ...]) -> bool:
        """Whether a block that an edit took, put or changed holds one of these G codes."""
        if index < 0:
            return False
        edit = self.comparison.edit(index)
        return any(self.block_has(side, b, codes) for side, blocks in enumerate((edit.old, edit.new)) for b in blocks)

    @cached_property
    def scaling(self) -> frozenset[tuple[int, ...]]:
        """The causes under which a place or a feed is exactly 25.4 times what it was, or 1/25.4, where a unit word was touched."""
        return frozenset(
            effect.causes
            for effect in self.comparison.effects
            if any(words.touches("G20", "G21") for words in self.words_of(effect)) and _scaled(effect)
        )

    @cached_property
    def reordered(self) -> frozenset[tuple[int, ...]]:
        """The causes under which something is made at another time."""
        return frozenset(effect.causes for effect in self.comparison.effects if effect.field == "order")

    @cached_property
    def not_executed(self) -> dict[tuple[int, ...], list[Effect]]:
        """By their causes, the effects about something that could not be executed on one side or on both."""
        found: dict[tuple[int, ...], list[Effect]] = {}
        for effect in self.comparison.effects:
            item = effect.first.new or effect.first.old
            if item is not None and item.kind in NOT_EXECUTED and not effect.left:
                found.setdefault(effect.causes, []).append(effect)
        return found

    def paths(self, position: str) -> tuple[Path, Path]:
        """Both sides under one switch position."""
        found = self._paths.get(position)
        if found is None:
            old, new = self.comparison.old, self.comparison.new
            found = self._paths[position] = (Path(old, _trace(old, position)), Path(new, _trace(new, position)))
        return found

    # -- cycles ---------------------------------------------------------------------------------------------------------

    def cycle_pairs(self, position: str = "") -> tuple[CyclePair, ...]:
        """The cycles that both sides call, in the order of the new program."""
        found = self._pairs.get(position)
        if found is None:
            found = self._pairs[position] = tuple(self._paired(*self.paths(position)))
        return found

    def _paired(self, old: Path, new: Path) -> list[CyclePair]:
        edits = self.comparison.edits
        partner = edits.alignment.new_to_old.tolist()
        waiting: dict[tuple[str, int, bool], list[CycleCall]] = {}
        for call in old.trace.cycles:
            waiting.setdefault((call.code, call.block, True), []).append(call)
            edit = int(edits.of_old[call.block])
            if edit >= 0 and call.block not in partner:
                waiting.setdefault((call.code, edit, False), []).append(call)
        pairs: list[CyclePair] = []
        for call in new.trace.cycles:
            block, edit = partner[call.block], int(edits.of_new[call.block])
            key = (call.code, block, True) if block >= 0 else (call.code, edit, False)
            if queue := waiting.get(key):
                pairs.append(self._pair(len(pairs), queue.pop(0), call))
        return pairs

    def _pair(self, index: int, old: CycleCall, new: CycleCall) -> CyclePair:
        names = dict.fromkeys((*old.amounts, *new.amounts))
        amounts = tuple(
            AmountChange(name, old.amounts.get(name), new.amounts.get(name))
            for name in names
            if old.amounts.get(name) != new.amounts.get(name)
        )
        edits = self.comparison.edits
        found = [int(edits.of_old[b]) for b in old.set_by] + [int(edits.of_new[b]) for b in new.set_by]
        return CyclePair(
            index, old, new, amounts, tuple(sorted({e for e in found if e >= 0})), self._labels_moved(old, new)
        )

    def _labels_moved(self, old: CycleCall, new: CycleCall) -> bool:
        """Whether the contour begins or ends at a block that the other program has too, but not in its contour."""
        alignment = self.comparison.edits.alignment
        forth = [int(alignment.old_to_new[b]) for b in (*old.contour[:1], *old.contour[-1:])]
        back = [int(alignment.new_to_old[b]) for b in (*new.contour[:1], *new.contour[-1:])]
        return any(k >= 0 and k not in new.contour for k in forth) or any(k >= 0 and k not in old.contour for k in back)

    def cycle_pair_of(self, effect: Effect, difference: Difference) -> CyclePair | None:
        """The pair of cycles that a difference lies in."""
        for side, item in enumerate((difference.old, difference.new)):
            call = self.cycle_of(effect, item, side)
            if call is not None:
                pairs = self.cycle_pairs(effect.position)
                found = next((p for p in pairs if (p.old if side == 0 else p.new) is call), None)
                if found is not None:
                    return found
        return None

    def cycle_of(self, effect: Effect, item: Item | None, side: int) -> CycleCall | None:
        """The cycle that made an item of one side (0 old, 1 new)."""
        return self.paths(effect.position)[side].cycle_of(item) if item is not None else None

    def direct(self, effect: Effect) -> Difference | None:
        """The first difference of an effect outside cycles that share out the material themselves (a finish cycle runs the contour)."""
        found = self._direct.get(id(effect))
        if found is None:
            found = self._direct[id(effect)] = next(
                ((d,) for d in effect.differences if not self._shared_out(effect, d)), (None,)
            )
        return found[0]

    def _shared_out(self, effect: Effect, difference: Difference) -> bool:
        sides = enumerate((difference.old, difference.new))
        calls = [self.cycle_of(effect, item, side) for side, item in sides]
        return any(call is not None and call.code != "G70" for call in calls)

    def in_cycle(self, effect: Effect) -> bool:
        """Whether all moves of an effect were made by cycles that share out the material themselves."""
        return self.direct(effect) is None

    def bent(self, effect: Effect) -> bool:
        """Whether a rapid only goes another way to the same end: on both sides it carries the same words."""
        first = effect.first
        if effect.field != "remark" or first.old is None or first.new is None:
            return False
        if "rapid" not in (first.old.kind, first.new.kind):
            return False
        paths = self.paths(effect.position)
        words = [path.remark_of(item) for path, item in zip(paths, (first.old, first.new), strict=True)]
        return words[0] == words[1]

    # -- sequences ------------------------------------------------------------------------------------------------------

    @cached_property
    def removed_sequences(self) -> tuple[Sequence, ...]:
        """Old sequences that are not in the new program."""
        return self._lone_sequences(0, self.comparison.edits.alignment.old_to_new.tolist())

    @cached_property
    def added_sequences(self) -> tuple[Sequence, ...]:
        """New sequences that were not in the old program."""
        return self._lone_sequences(1, self.comparison.edits.alignment.new_to_old.tolist())

    def _lone_sequences(self, side: int, partner: list[int]) -> tuple[Sequence, ...]:
        """Sequences whose tool call, and most of whose cutting blocks, have no partner (how a sequence ends says little)."""
        path = self.paths("")[side]
        found = []
        for sequence in path.side.sequences:
            if sequence.called < 0 or partner[sequence.called] >= 0:
                continue
            blocks = [b for b in path.cutting_blocks if sequence.first <= b < sequence.end]
            blocks = blocks or list(range(sequence.first, sequence.end))
            if sum(partner[b] < 0 for b in blocks) >= _GONE * len(blocks):
                found.append(sequence)
        return tuple(found)

    # -- places ---------------------------------------------------------------------------------------------------------

    def clearance_of(self, effect: Effect) -> Clearance | None:
        """What a changed place of a rapid means for its distance to the stock or the cut: the worst of the effect's first moves."""
        paths = self.paths(effect.position)
        worst: Clearance | None = None
        for difference in effect.differences[:8]:
            old, new = difference.old, difference.new
            if old is None or new is None:
                continue
            found = clearance_between(paths, old, new, self.policy)
            if worst is None or (found.weight.rank, not found.matters) < (worst.weight.rank, not worst.matters):
                worst = found
        return worst

    def free(self, effect: Effect) -> bool:
        """Whether an effect is about rapids, or about moves at feed that surely stay outside the stock on both sides."""
        paths = self.paths(effect.position)
        return all(
            item is None or not item.cuts or path.in_air(item)
            for difference in effect.differences[:64]
            for path, item in zip(paths, (difference.old, difference.new), strict=True)
        )


def clearance_between(paths: tuple[Path, Path], old: Item, new: Item, policy: Policy) -> Clearance:
    """The clearance of one move that ends elsewhere, before and after."""
    approach = paths[0].leads_to_cut(old) or paths[1].leads_to_cut(new)
    limit = policy.approach_clearance_mm if approach else policy.retract_clearance_mm
    return clearance(paths, old, new, limit, approach=approach)


def _scaled(effect: Effect) -> bool:
    before, after = effect.before, effect.after
    if effect.field in ("x", "z") and isinstance(before, tuple) and isinstance(after, tuple):
        before, after = before[1] if not before[0] else 0, after[1] if not after[0] else 0
    elif effect.field != "feed" or not isinstance(before, Fraction) or not isinstance(after, Fraction):
        return False
    return bool(before and after) and min(abs(before * 127 - after * 5), abs(before * 5 - after * 127)) <= 127


def _trace(side: Side, position: str) -> Trace:
    return dict(side.switched).get(position, side.trace) if position else side.trace


def sequence_at(found: tuple[Sequence, ...], block: int) -> Sequence | None:
    """The sequence among these that holds a block (they are in order)."""
    k = bisect_right([s.first for s in found], block) - 1
    return found[k] if k >= 0 and block < found[k].end else None
