"""Who did it: the edits behind each difference in behaviour, and the effects that an edit has.

The way from a difference to its causes is the provenance that execution kept: the block that set the value, the blocks an increment or a cycle
rests on, the calls it was reached by. Where that leads to no edit, the nearest edit in front of it decided the flow.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from verifier.compare.differences import STATE_FIELDS, Difference
from verifier.compare.edits import CHANGED, Edits
from verifier.compare.items import Item
from verifier.control import Trace

_SIZES = frozenset("XZUWIKRC")
_IDLE_FOR: dict[str, frozenset[str]] = {
    **dict.fromkeys(("sense", "coolant", "tool", "offset", "compensation", "plane", "path_mode"), _SIZES | {"F", "S"}),
    "auxiliaries": _SIZES | {"F", "S"},
    **dict.fromkeys(("feed", "feed_mode"), _SIZES | {"S"}),
    **dict.fromkeys(("speed", "speed_mode", "clamp"), _SIZES | {"F"}),
}
"""Letters of words that never set a field, in a block that sets it by another word: `S360` beside an `M03` that was there before."""

PROFILE = -1
"""Stands for an edit where no edit of the text is the cause: another machine profile or setup sheet."""


@dataclass(frozen=True, slots=True)
class Effect:
    """What one edit does in one field: all differences with the same causes, field and values, together.

    `causes` are indices of edits (PROFILE for the profile or the setup sheet). `before`, `after`: the values of the first difference.
    `left`: whether it is about the state left at the end. `position`: the switch position it needs ("" = block skips off).
    """

    field: str
    causes: tuple[int, ...]
    before: object
    after: object
    differences: tuple[Difference, ...]
    certain: bool
    left: bool = False
    position: str = ""

    @property
    def key(self) -> tuple[object, ...]:
        """What tells whether two switch positions have the same effect."""
        return (self.field, self.causes, *_values(self.first)) if not self.left else (self.field, self.causes, "left")

    @property
    def first(self) -> Difference:
        """The first difference, in program order."""
        return self.differences[0]


class Provenance:
    """Looks up the edits behind the items of one side."""

    def __init__(self, trace: Trace, edit_of: NDArray[np.int32]) -> None:
        self._trace = trace
        self._edit_of = edit_of.tolist()
        self._memo: dict[int, tuple[int, ...]] = {}
        self._links = (trace.origins.block.tolist(), trace.origins.first.tolist(), trace.origins.second.tolist())

    def edits_of_blocks(self, blocks: Iterable[int]) -> tuple[int, ...]:
        """The edits that touch any of these blocks, in the order given."""
        return tuple(dict.fromkeys(e for b in blocks if b >= 0 and (e := self._edit_of[b]) >= 0))

    def edits_of_origin(self, origin: int) -> tuple[int, ...]:
        """The edits nearest behind an origin: the first ones met on each way back."""
        if origin < 0:
            return ()
        found = self._memo.get(origin)
        if found is None:
            found = self._memo[origin] = self._search(origin)
        return found

    def _search(self, origin: int) -> tuple[int, ...]:
        block, first, second = self._links
        edits: dict[int, None] = {}
        queue, seen = [origin], {origin}
        for here in queue:
            edit = self._edit_of[block[here]] if block[here] >= 0 else -1
            if edit >= 0:
                edits[edit] = None
                continue
            for link in (first[here], second[here]):
                if link >= 0 and link not in seen:
                    seen.add(link)
                    queue.append(link)
        return tuple(edits)

    def field(self, item: Item, name: str) -> tuple[int, ...]:
        """The edits behind one field of an item."""
        moves, trace = self._trace.moves, self._trace
        if name in STATE_FIELDS:
            row = int(moves.set_by[item.first]) if item.is_move else trace.events[item.first].set_by
            return self.edits_of_origin(trace.set_by[row][STATE_FIELDS.index(name)])
        if not item.is_move:
            return self.edits_of_origin(trace.events[item.first].origin)
        if name == "x":
            return self.edits_of_origin(int(moves.ox[item.last]))
        if name == "z":
            return self.edits_of_origin(int(moves.oz[item.last]))
        if name == "kind":
            return self.edits_of_origin(int(moves.ok[item.first]))
        return ()

    def around(self, item: Item) -> tuple[int, ...]:
        """The edits behind an item as a whole: its blocks, its motion and end, and the calls it was reached by."""
        found: dict[int, None] = dict.fromkeys(self.edits_of_blocks(item.blocks))
        if item.is_move:
            for name in ("kind", "x", "z"):
                found.update(dict.fromkeys(self.field(item, name)))
        caller = item.caller
        while caller > 0:
            found.update(dict.fromkeys(self.edits_of_origin(self._trace.decided[caller])))
            block, caller = self._trace.callers[caller]
            found.update(dict.fromkeys(self.edits_of_blocks((block,))))
        return tuple(found)


class Attribution:
    """Finds causes for differences between two traces."""

    def __init__(self, old: Trace, new: Trace, edits: Edits, *, outside: bool = False) -> None:
        """`outside`: whether something beside the two texts differs, too (profile, setup sheet, library)."""
        self._sides = (Provenance(old, edits.of_old), Provenance(new, edits.of_new))
        self._edits = edits
        self._outside = outside
        self._traces = (old, new)

    def causes(self, difference: Difference) -> tuple[int, ...]:
        """The edits behind a difference, in order; (PROFILE,) where the text has no part in it."""
        sides = [
            (side, item)
            for side, item in zip(self._sides, (difference.old, difference.new), strict=True)
            if item is not None
        ]
        found = {edit for side, item in sides for edit in side.field(item, difference.field)}
        found = {edit for edit in found if not self._idle(edit, difference.field)} or found
        found = found or {edit for side, item in sides for edit in side.edits_of_blocks(item.blocks)}
        found = found or {edit for side, item in sides for edit in side.around(item)}
        return tuple(sorted(found)) or self._fallback(difference)

    def _idle(self, index: int, name: str) -> bool:
        """Whether an edit changed only words that cannot set this field: the block that set it did so by a word it had before."""
        edit, idle = self._edits.edits[index], _IDLE_FOR.get(name)
        if idle is None or edit.kind != CHANGED:
            return False
        words = [word for change in edit.words for word in (change.old, change.new) if word is not None]
        return bool(words) and all(word.letter in idle and word.expression is None for word in words)

    def _fallback(self, difference: Difference) -> tuple[int, ...]:
        if self._outside or not self._edits.edits:
            return (PROFILE,)
        sides_at = [k for k, item in enumerate((difference.old, difference.new)) if item is not None]
        blocks = [item.block for item in (difference.old, difference.new) if item is not None]
        return (self._edits.nearest(list(zip(sides_at, blocks, strict=True))),)

    def causes_of_left(self, name: str) -> tuple[int, ...]:
        """The edits behind a field of the state left at the end."""
        index = STATE_FIELDS.index(name)
        old, new = self._traces
        return self.causes_of_origins(old.end_set_by[index], new.end_set_by[index])

    def causes_of_origins(self, old: int, new: int) -> tuple[int, ...]:
        """The edits behind an origin of either side, else what lies outside the texts, else the last edit."""
        found = {e for side, origin in zip(self._sides, (old, new), strict=True) for e in side.edits_of_origin(origin)}
        if found:
            return tuple(sorted(found))
        return (PROFILE,) if self._outside or not self._edits.edits else (self._edits.edits[-1].index,)


def effects_of(differences: Iterable[Difference], attribution: Attribution) -> tuple[Effect, ...]:
    """Differences together as effects: one for each set of causes, field, and before and after."""
    groups: dict[tuple[object, ...], tuple[tuple[int, ...], list[Difference]]] = {}
    for difference in differences:
        causes = attribution.causes(difference)
        key = (causes, difference.field, *_values(difference))
        groups.setdefault(key, (causes, []))[1].append(difference)
    return tuple(_effect(causes, tuple(found)) for causes, found in groups.values())


def _effect(causes: tuple[int, ...], found: tuple[Difference, ...]) -> Effect:
    first = found[0]
    return Effect(first.field, causes, first.before, first.after, found, all(d.certain for d in found))


def _values(difference: Difference) -> tuple[object, ...]:
    """What makes two differences the same effect: the values; for places the shift; for items that came or went their kind."""
    name, before, after = difference.field, difference.before, difference.after
    if name in ("x", "z", "below-resolution"):
        assert isinstance(before, tuple) and isinstance(after, tuple)
        if before[0] == after[0]:
            return (after[1] - before[1], _feeds(difference))
        return (before, after, _feeds(difference))
    if name in ("added", "removed", "order"):
        item = difference.old or difference.new
        assert item is not None
        return (item.is_move, item.kind, item.value if not item.is_move else "")
    if name == "arc":
        return ("arc",)
    return (repr(before), repr(after))


def _feeds(difference: Difference) -> bool:
    item = difference.new or difference.old
    return item is not None and item.cuts
