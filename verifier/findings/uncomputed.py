"""Cycles that could not be executed on either side, and whose words were changed: what is known of them is the words themselves."""

from __future__ import annotations

from dataclasses import dataclass

from verifier.compare import Effect, Item, WordChange
from verifier.control import CYCLES, meant
from verifier.findings.facts import Facts
from verifier.machines import code_name, meaning

_NOT_EXECUTED = ("event:unexecuted", "event:unreadable")


@dataclass(frozen=True, slots=True)
class Uncomputed:
    """A cycle that cannot be executed: its code as this machine calls it, the words that were changed, and why it cannot be executed now."""

    name: str
    block: int
    changes: tuple[WordChange, ...]
    reason: str

    @property
    def words(self) -> str:
        """What was changed, in the words as they are written: their units hang on what could not be executed."""
        return ", ".join(dict.fromkeys(map(_change_words, self.changes)))


def uncomputed_cycle(facts: Facts, effect: Effect) -> Uncomputed | None:
    """The cycle that an effect is about, where neither side's could be executed and only edits of its own words are behind it."""
    old, new = effect.first.old, effect.first.new
    if effect.field != "event" or old is None or new is None:
        return None
    if old.kind not in _NOT_EXECUTED or new.kind not in _NOT_EXECUTED:
        return None
    code = _cycle_of(facts, 1, new)
    if not code or _cycle_of(facts, 0, old) != code:
        return None
    changes: list[WordChange] = []
    for index in effect.causes:
        if index < 0 or not _its_own_words(facts, index, code, (old.block, new.block)):
            return None
        changes += facts.words[index].changes
    if not changes:
        return None
    name = code_name(code, facts.comparison.new.machine.code_set)
    return Uncomputed(name, new.block, tuple(changes), _reason(facts, effect, new))


def uncomputed_amounts(facts: Facts, effect: Effect) -> bool:
    """Whether an effect is another amount of a cycle that cannot be executed."""
    return uncomputed_cycle(facts, effect) is not None


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


def _reason(facts: Facts, effect: Effect, item: Item) -> str:
    unchecked = facts.paths(effect.position)[1].trace.unchecked
    here = [entry.reason for entry in unchecked if entry.block == item.block and entry.what in item.value]
    return here[0] if here else ""


def _change_words(change: WordChange) -> str:
    old, new = change.old, change.new
    if old is None or new is None:
        word = new or old
        return f"{word.text} {'added' if old is None else 'gone'}" if word is not None else ""
    return f"{change.letter} from {old.text[1:].strip()} to {new.text[1:].strip()}"


__all__ = ["Uncomputed", "uncomputed_amounts", "uncomputed_cycle"]
