"""What changed between the words of two blocks that were matched.

Words pair within their letter: first those of equal value, then the rest in their order. So G and M words pair by code
before anything is called a change, and a letter that occurs once on both sides always pairs. Block numbers are words
like any other here; whether they count is for the caller to say.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from verifier.compare.align_anchor import heaviest_chain
from verifier.syntax import Word, word_key

Kind = Literal["changed", "added", "removed", "respelled", "moved"]

_MIRROR: dict[Kind, Kind] = {"added": "removed", "removed": "added"}


@dataclass(frozen=True, slots=True)
class WordChange:
    """One difference between the words of a block before and after.

    `changed`: another value, or a point gained or lost. `respelled`: the same value and point, other characters.
    `moved`: the word stands in another order than the rest; it comes beside a `changed` or `respelled` for the same
    words where both are true. `old` is None for `added`, `new` is None for `removed`.
    """

    letter: str
    old: Word | None
    new: Word | None
    kind: Kind

    def mirrored(self) -> WordChange:
        """The same difference with before and after exchanged."""
        return WordChange(self.letter, self.new, self.old, _MIRROR.get(self.kind, self.kind))


def word_changes(old_words: Sequence[Word], new_words: Sequence[Word]) -> tuple[WordChange, ...]:
    """The differences between two blocks, in the order of their place in the block; () where the words are identical.

    Words are identical when their text is; the columns they stand in take no part. Exchanging the blocks gives exactly
    the mirrored changes.
    """
    old_texts, new_texts = [w.text for w in old_words], [w.text for w in new_words]
    if old_texts == new_texts:
        return ()
    if old_texts > new_texts:
        return tuple(change.mirrored() for change in _changes(new_words, old_words))
    return _changes(old_words, new_words)


def same_value(old: Word, new: Word) -> bool:
    """Whether two words say the same: letter, exact value and point (G and M by number), or the same expression."""
    return word_key(old) == word_key(new)


def _changes(old_words: Sequence[Word], new_words: Sequence[Word]) -> tuple[WordChange, ...]:
    pairs = _pairs(old_words, new_words)
    placed: list[tuple[tuple[int, int], WordChange]] = []
    weight = [3 if same_value(old_words[i], new_words[j]) else 2 for i, j in pairs]  # rather a changed word moved
    in_order = heaviest_chain(np.array([j for _, j in pairs], np.int64), np.array(weight, np.int64)).tolist()
    for (at_old, at_new), stays in zip(pairs, in_order, strict=True):
        old, new = old_words[at_old], new_words[at_new]
        place = (min(at_old, at_new), max(at_old, at_new))
        if not same_value(old, new):
            placed.append((place, WordChange(old.letter, old, new, "changed")))
        elif old.text != new.text:
            placed.append((place, WordChange(old.letter, old, new, "respelled")))
        if not stays:
            placed.append((place, WordChange(old.letter, old, new, "moved")))
    end = len(old_words) + len(new_words)
    kept_old, kept_new = {old for old, _ in pairs}, {new for _, new in pairs}
    for at, word in enumerate(old_words):
        if at not in kept_old:
            placed.append(((at, end), WordChange(word.letter, word, None, "removed")))
    for at, word in enumerate(new_words):
        if at not in kept_new:
            placed.append(((at, end), WordChange(word.letter, None, word, "added")))
    placed.sort(key=lambda item: (item[0], item[1].letter, item[1].kind == "moved"))
    return tuple(change for _, change in placed)


def _pairs(old_words: Sequence[Word], new_words: Sequence[Word]) -> list[tuple[int, int]]:
    """Places of the words that pair, rising in the old block: by value first, then by order within the letter."""
    pairs, old_left, new_left = _in_turn(
        [(at, word_key(word)) for at, word in enumerate(old_words)],
        [(at, word_key(word)) for at, word in enumerate(new_words)],
    )
    more, _, _ = _in_turn(
        [(at, old_words[at].letter) for at in old_left], [(at, new_words[at].letter) for at in new_left]
    )
    return sorted(pairs + more)


def _in_turn(
    old: Sequence[tuple[int, Hashable]], new: Sequence[tuple[int, Hashable]]
) -> tuple[list[tuple[int, int]], list[int], list[int]]:
    """Pair the k-th old item of every name with the k-th new one; also the places that stayed alone."""
    waiting: dict[Hashable, list[int]] = defaultdict(list)
    for at, name in reversed(new):
        waiting[name].append(at)
    pairs: list[tuple[int, int]] = []
    old_left: list[int] = []
    for at, name in old:
        if waiting[name]:
            pairs.append((at, waiting[name].pop()))
        else:
            old_left.append(at)
    return pairs, old_left, sorted(at for places in waiting.values() for at in places)
