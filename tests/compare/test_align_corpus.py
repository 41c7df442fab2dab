"""The laws again on real pairs of programs, where they are at hand beside the repository."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import numpy as np
import pytest

from verifier.compare.align_words import align_words
from verifier.compare.keys_program import program_words
from verifier.compare.worddiff import word_changes
from verifier.source import SourceRefused, read_path
from verifier.syntax import Block, Program, parse, word_key

PAIRS = Path(__file__).resolve().parents[3] / "shared" / "corpus" / "pairs"
LARGEST = 2000
"""Blocks above which a pair is left out, for time."""

pytestmark = pytest.mark.skipif(not PAIRS.is_dir(), reason="the corpus of program pairs is not beside the repository")


def load(path: Path) -> Program | None:
    try:
        return parse(read_path(path))
    except SourceRefused:
        return None


def pairs() -> list[tuple[str, Program, Program]]:
    found = []
    for folder in sorted(PAIRS.iterdir()):
        old, new = load(folder / "old.nc"), load(folder / "new.nc")
        if old and new and max(len(old.blocks), len(new.blocks)) <= LARGEST:
            found.append((folder.name, old, new))
    assert len(found) > 50
    return found


@pytest.fixture(scope="module")
def corpus() -> list[tuple[str, Program, Program]]:
    return pairs()


def says(block: Block) -> tuple[Counter[str], tuple[str, ...], tuple[int, ...]]:
    """All that a block says apart from order, spelling and block number, by another way than the keys."""
    return (
        Counter(word_key(word) for word in block.words if word.letter != "N"),
        tuple(macro.text for macro in block.macros),
        tuple(skip.level for skip in block.skips),
    )


def test_equal_keys_mean_equal_words_and_no_telling_change(corpus: list[tuple[str, Program, Program]]) -> None:
    for name, old, new in corpus:
        found = align_words(program_words(old), program_words(new))
        for i, j in zip(*(side.tolist() for side in found.pairs()), strict=True):
            before, after = old.blocks[i], new.blocks[j]
            if before.flaws or after.flaws:
                continue
            assert (says(before) == says(after)) == (found.rung[i] == 0), (name, i, j)
            kinds = {c.kind for c in word_changes(before.words, after.words) if c.letter != "N"}
            if found.rung[i] == 0:
                assert kinds <= {"respelled", "moved"}, (name, i, j)


def test_exchange_mirrors_and_the_main_line_rises(corpus: list[tuple[str, Program, Program]]) -> None:
    for name, old, new in corpus:
        left, right = program_words(old), program_words(new)
        there, back = align_words(left, right), align_words(right, left).mirrored()
        for field in ("old_to_new", "new_to_old", "rung", "moved"):
            assert np.array_equal(getattr(there, field), getattr(back, field)), (name, field)
        i, j = there.pairs()
        assert np.all(np.diff(j[~there.moved[i]]) > 0), name


def test_a_program_is_itself(corpus: list[tuple[str, Program, Program]]) -> None:
    for name, old, _ in corpus:
        words = program_words(old)
        found = align_words(words, words)
        assert np.array_equal(found.old_to_new, np.arange(len(words))), name
        assert not found.rung.any() and not found.moved.any(), name
