"""Words that a person reads from the control to show which program it holds: what the base would read otherwise comes first."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from functools import cache

from verifier.compare import SAME
from verifier.findings.view import ChangeView
from verifier.syntax import Block, Program, Word, word_key

MOST = 8
_LETTERS = frozenset("GMTXZUWFSPQRIK")

Pair = tuple[str, str]
"""The line, as told to a person, and the word."""


def challenge(change: ChangeView) -> tuple[Pair, ...]:
    """Places and words of the new program, at most eight; those that tell it from the base at the same line first.

    Where behaviour changes and no word tells the two apart there are none, and a read-back is wanted. Where all that tell are
    one and the same word, others of the changed blocks follow, so that two different ones can be asked for.
    """
    old, new = change.old.program, change.new.program
    there = {line: index for index, line in enumerate(old.columns.line.tolist())}

    @cache
    def said(line: int) -> frozenset[str]:
        words = old.blocks[there[line]].words if line in there else ()
        return frozenset(word_key(word) for word in words)

    changed = list(_words(new.blocks[index] for edit in change.edits for index in edit.new))
    telling = [(block, word) for block, word in changed if word_key(word) not in said(block.line)]
    if not telling:
        # What was only taken out moves the lines behind it, and that tells as well.
        telling = [(b, w) for b, w in _words(new.blocks) if word_key(w) not in said(b.line)]
    rest = [] if len({word.text for _, word in telling}) > 1 else changed
    found = tuple(dict.fromkeys((f"line {block.line}", word.text) for block, word in [*telling, *rest]))
    if telling:
        return found[:MOST]
    return first_challenge(new) if change.comparison.verdict == SAME else ()


def first_challenge(program: Program) -> tuple[Pair, ...]:
    """Words spread over a program that has nothing to be told from."""
    words = [(f"line {block.line}", word.text) for block, word in _words(program.blocks)]
    step = max(1, len(words) // MOST)
    return tuple(words[::step][:MOST])


def _words(blocks: Iterable[Block]) -> Iterator[tuple[Block, Word]]:
    """Words with a number that can be asked for by their letter: it stands once in the block."""
    for block in blocks:
        letters = Counter(word.letter for word in block.words)
        for word in block.words:
            if word.letter in _LETTERS and word.number is not None and letters[word.letter] == 1:
                yield block, word
