"""Whether moves came or went because the run takes another way: a changed condition, jump or loop, or a variable that one asks."""

from __future__ import annotations

from verifier.compare import Effect, Item
from verifier.control import Trace
from verifier.findings.facts import Facts

_FLOW = frozenset(("if-goto", "goto", "while", "do", "end"))


def goes_another_way(facts: Facts, effect: Effect) -> bool:
    """Whether an edit behind an effect changed a condition, a jump or a loop, or set what was asked on the way to its moves."""
    edits = [facts.comparison.edit(k) for k in effect.causes if k >= 0]
    sides = facts.comparison.old.program, facts.comparison.new.program
    blocks = [
        (program, block)
        for edit in edits
        for program, of in zip(sides, (edit.old, edit.new), strict=True)
        for block in of
    ]
    kinds = {macro.kind for program, block in blocks for macro in program.blocks[block].macros}
    if kinds & _FLOW:
        return True
    return bool(kinds) and any(_asked(facts, effect, side, item) for side, item in _sides(effect))


def _sides(effect: Effect) -> tuple[tuple[int, Item], ...]:
    found = ((0, effect.first.old), (1, effect.first.new))
    return tuple((side, item) for side, item in found if item is not None)


def _asked(facts: Facts, effect: Effect, side: int, item: Item) -> bool:
    """Whether what was decided on the way to an item rests on an edit behind the effect."""
    trace = facts.paths(effect.position)[side].trace
    of = (facts.comparison.edits.of_old, facts.comparison.edits.of_new)[side]
    caller = item.caller
    while caller > 0:
        if _edits_behind(trace, trace.decided[caller], of.tolist()) & set(effect.causes):
            return True
        caller = trace.callers[caller][1]
    return False


def _edits_behind(trace: Trace, origin: int, of: list[int]) -> set[int]:
    found, queue, seen = set[int](), [origin], {origin}
    for here in queue:
        if here < 0:
            continue
        block = int(trace.origins.block[here])
        if block >= 0 and of[block] >= 0:
            found.add(of[block])
        for link in (int(trace.origins.first[here]), int(trace.origins.second[here])):
            if link not in seen:
                seen.add(link)
                queue.append(link)
    return found
