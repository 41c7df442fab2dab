"""Claims about calls of which only the number of runs changed."""

from __future__ import annotations

from verifier.compare import Effect
from verifier.control import layout, whole
from verifier.findings.facts import Facts
from verifier.syntax import Program

_CALLS = (("M", 97), ("M", 98), ("G", 65), ("G", 66))
_PACKED = 10_000
"""The greatest program number that leaves room in P for a count in front of it."""


def count_differs(facts: Facts, effect: Effect) -> bool:
    """Whether an effect comes from calls of the same program that run another number of times."""
    edits = [k for k in effect.causes if k >= 0]
    return bool(edits) and all(counts_of(facts, k) is not None for k in edits)


def counts_of(facts: Facts, index: int) -> tuple[str, int, int] | None:
    """What an edit calls, and how often before and after, where nothing but the count changed; else None."""
    edit, words = facts.comparison.edit(index), facts.words[index]
    if len(edit.old) != 1 or len(edit.new) != 1 or words.put or words.taken or not words.letters <= {"P", "L"}:
        return None
    before = _counted(facts.comparison.old.program, edit.old[0])
    after = _counted(facts.comparison.new.program, edit.new[0])
    if before is None or after is None or before[0] != after[0] or before[1] == after[1]:
        return None
    return before[0], before[1], after[1]


def _counted(text: Program, index: int) -> tuple[str, int] | None:
    """The called program in words and the number of its runs; None where the block calls nothing, or not in plain numbers."""
    block = text.blocks[index]
    codes = {(word.letter, whole(word)) for word in block.words if word.letter in "GM"}
    if not codes & set(_CALLS):
        return None
    numbers = {word.letter: whole(word) for word in block.words if word.letter in "PQL"}
    if None in numbers.values():
        return None
    program, count = numbers.get("P"), numbers.get("L", 1)
    if program is not None and program >= _PACKED and "L" not in numbers:
        filed = {unit.number for unit in layout(text).units}
        if program in filed or program % _PACKED not in filed:
            return None  # whether its first digits are a count is not told by this file
        count, program = divmod(program, _PACKED)
    named = f"O{program}" if program is not None else ""
    label = f"N{numbers['Q']}" if "Q" in numbers else ""
    return (" from ".join(filter(None, (named, label))), count or 0) if named or label else None
