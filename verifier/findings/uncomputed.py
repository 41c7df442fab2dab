"""What could not be executed on one side or on both, and whose words were changed: what is known of it is the words themselves."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from verifier.compare import Effect, Item, WordChange
from verifier.control import CYCLES, CycleCall, meant
from verifier.findings.claims_causes import item_of
from verifier.findings.facts import NOT_EXECUTED, Facts
from verifier.machines import code_name, meaning


@dataclass(frozen=True, slots=True)
class Uncomputed:
    """A cycle that cannot be executed: its code as this machine calls it, its block (of the new program), the words that were changed, and why.

    `side` tells which side's cannot be executed: "old", "new" or "both"; `as_written` how many moves its contour makes there, block by block.
    """

    name: str
    block: int
    changes: tuple[WordChange, ...]
    side: str
    reason: str
    as_written: int

    @property
    def words(self) -> str:
        """What was changed, in the words as they are written: their units hang on what could not be executed."""
        return words_of_changes(self.changes)

    @property
    def not_known(self) -> str:
        """That nobody knows here what the control makes of it, on which side, and why."""
        return unknown_outcome(self.side, self.reason)


_OUTCOME = {
    "old": "what the control made of it before could not be computed",
    "new": "what the control makes of it now cannot be computed",
    "both": "what the control makes of it could not be computed",
}


def unknown_outcome(side: str, reason: str) -> str:
    """What is not known of words that could not be executed on one side ("old", "new") or on "both"."""
    return _OUTCOME[side] + (f" ({reason})" if reason else "")


_SIDES = {"event": "both", "added": "new", "removed": "old"}
"""By the field of an effect, the sides on which something was not executed."""


def uncomputed_cycle(facts: Facts, effect: Effect) -> Uncomputed | None:
    """The cycle that an effect is about, where one side's at least could not be executed and only edits of its own words are behind it."""
    item = item_of(effect)
    if effect.field not in _SIDES or item is None or item.kind not in NOT_EXECUTED:
        return None
    side = 0 if effect.field == "removed" else 1
    code, blocks = _cycle_of(facts, side, item), _blocks(facts, effect)
    if blocks is None or not code or not _same_cycle(facts, effect, code, blocks):
        return None
    changes: list[WordChange] = []
    for index in effect.causes:
        if index < 0 or not _its_own_words(facts, index, code, blocks):
            return None
        changes += facts.words[index].changes
    if not changes:
        return None
    name = code_name(code, facts.comparison.new.machine.code_set)
    written = 0 if effect.field == "event" else _made_as_written(facts, effect, side, blocks)
    return Uncomputed(
        name, blocks[1], tuple(changes), _SIDES[effect.field], reason_for(facts, effect, side, item), written
    )


def _blocks(facts: Facts, effect: Effect) -> tuple[int, int] | None:
    """The cycle's block on either side: its partner, or the one block that it was replaced by; None where one side has none."""
    old, new, edits = effect.first.old, effect.first.new, facts.comparison.edits
    if old is not None and new is not None:
        return old.block, new.block
    if new is not None:
        index, found = int(edits.of_new[new.block]), (int(edits.alignment.new_to_old[new.block]), new.block)
    elif old is not None:
        index, found = int(edits.of_old[old.block]), (old.block, int(edits.alignment.old_to_new[old.block]))
    else:
        return None
    if min(found) >= 0:
        return found
    edit = facts.comparison.edit(index) if index >= 0 else None
    return (edit.old[0], edit.new[0]) if edit is not None and len(edit.old) == len(edit.new) == 1 else None


def _same_cycle(facts: Facts, effect: Effect, code: str, blocks: tuple[int, int]) -> bool:
    """Whether the other side's block calls the same cycle: it was not executed there either, or it was."""
    if effect.field == "event":
        old = effect.first.old
        return old is not None and old.kind in NOT_EXECUTED and _cycle_of(facts, 0, old) == code
    return any(call.code == code for call in _calls_at(facts, effect, 1 if effect.field == "removed" else 0, blocks))


def _calls_at(facts: Facts, effect: Effect, side: int, blocks: tuple[int, int]) -> list[CycleCall]:
    """The cycles that the block of one side calls."""
    return [call for call in facts.paths(effect.position)[side].trace.cycles if call.block == blocks[side]]


def _made_as_written(facts: Facts, effect: Effect, side: int, blocks: tuple[int, int]) -> int:
    """How many moves the blocks make for themselves on this side that are the cycle's contour on the other."""
    alignment = facts.comparison.edits.alignment
    partner = alignment.old_to_new if side == 1 else alignment.new_to_old
    contour = {int(partner[b]) for call in _calls_at(facts, effect, 1 - side, blocks) for b in call.contour}
    trace = facts.paths(effect.position)[side].trace
    written = np.isin(trace.moves.block, list(contour))
    for call in trace.cycles:
        written[call.first_move : call.first_move + call.moves] = False
    return int(written.sum())


def uncomputed_amounts(facts: Facts, effect: Effect) -> bool:
    """Whether an effect is another amount of a cycle that cannot be executed."""
    return uncomputed_cycle(facts, effect) is not None


def uncomputed_signs(facts: Facts, effect: Effect) -> bool:
    """Whether an effect is a sign in such a cycle."""
    return any(words.signs for words in facts.words_of(effect)) and uncomputed_amounts(facts, effect)


def uncomputed_points(facts: Facts, effect: Effect) -> bool:
    """Whether an effect is a decimal point in such a cycle."""
    return any(words.points for words in facts.words_of(effect)) and uncomputed_amounts(facts, effect)


def after_uncomputed(facts: Facts, effect: Effect) -> bool:
    """Whether an effect comes from the same edits as such a cycle: moves that stand against nothing on the side where it could not be executed."""
    return any(uncomputed_amounts(facts, other) for other in facts.not_executed.get(effect.causes, ()))


def cycle_not_executed(facts: Facts, effect: Effect) -> bool:
    """Whether moves that came or went are those of cycles, where one side has something that could not be executed because of the same edits."""
    calls = _cycles_on_one_side(facts, effect)
    return bool(calls) and None not in calls


def as_written(facts: Facts, effect: Effect) -> bool:
    """Whether moves came or went only because the cycle whose contour they are was executed on one side: else its blocks run as they are written."""
    calls = _cycles_on_one_side(facts, effect)
    if not calls or any(call is not None for call in calls):
        return False
    other = 0 if effect.field == "added" else 1
    alignment = facts.comparison.edits.alignment
    partner = alignment.new_to_old if effect.field == "added" else alignment.old_to_new
    contours = {block for call in facts.paths(effect.position)[other].trace.cycles for block in call.contour}
    items = [difference.new or difference.old for difference in effect.differences]
    return all(item is not None and item.is_move and int(partner[item.block]) in contours for item in items)


def _cycles_on_one_side(facts: Facts, effect: Effect) -> list[CycleCall | None]:
    """For each move that came or went the cycle that makes it; none where nothing failed to be executed because of the same edits."""
    if effect.field not in ("added", "removed") or effect.causes not in facts.not_executed:
        return []
    side = 1 if effect.field == "added" else 0
    return [facts.cycle_of(effect, difference.new or difference.old, side) for difference in effect.differences]


def _cycle_of(facts: Facts, side: int, item: Item) -> str:
    """The cycle's code by its meaning: as the event names it, else as the block does ("" for what is none)."""
    on = (facts.comparison.old, facts.comparison.new)[side]
    words = on.program.blocks[item.block].words
    named = (
        meaning(item.value.split(" ", 1)[0], on.machine.code_set),
        *(meant(w, on.machine) for w in words if w.letter == "G"),
    )
    return next((code for code in named if code in CYCLES), "") or ""


def _its_own_words(facts: Facts, index: int, code: str, blocks: tuple[int, int]) -> bool:
    """Whether an edit changed words of the cycle's own block, or of another line of the same code: its first one."""
    edit = facts.comparison.edit(index)
    if len(edit.old) != 1 or len(edit.new) != 1:
        return False
    if (edit.old[0], edit.new[0]) == blocks:
        return True
    return all(facts.block_has(side, found[0], (code,)) for side, found in enumerate((edit.old, edit.new)))


def reason_for(facts: Facts, effect: Effect, side: int, item: Item) -> str:
    """Why something of one side (0 old, 1 new) was not executed; "" where nothing is said."""
    unchecked = facts.paths(effect.position)[side].trace.unchecked
    here = [entry.reason for entry in unchecked if entry.block == item.block and entry.what in item.value]
    return here[0] if here else ""


def words_of_changes(changes: Iterable[WordChange]) -> str:
    """Changed words as they are written: "U from 2. to -2., R0.5 gone"."""
    return ", ".join(dict.fromkeys(map(_change_words, changes)))


def _change_words(change: WordChange) -> str:
    old, new = change.old, change.new
    if old is None or new is None:
        word = new or old
        return f"{word.text} {'added' if old is None else 'gone'}" if word is not None else ""
    return f"{change.letter} from {old.text[1:].strip()} to {new.text[1:].strip()}"


__all__ = [
    "Uncomputed",
    "after_uncomputed",
    "as_written",
    "cycle_not_executed",
    "reason_for",
    "uncomputed_amounts",
    "uncomputed_cycle",
    "uncomputed_points",
    "uncomputed_signs",
    "unknown_outcome",
    "words_of_changes",
]
