"""Inputs made to cost much, and whole programs rewritten: the search is counted, not timed, and the outcome is what a reader would say."""

from __future__ import annotations

import re
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.compare.pairs import pair
from tests.compare.test_align_words import assert_same, read
from verifier.compare.align import CELLS_PER_BLOCK, LEAST_CELLS, Rung, align
from verifier.compare.align_myers import Work
from verifier.compare.align_words import align_words

Keys = NDArray[np.int64]
Pair = tuple[Keys, Keys]


def chance() -> np.random.Generator:
    return np.random.default_rng(11)


def with_edits(keys: Keys, share: int = 100) -> Keys:
    """One of so many blocks changed, taken out or put in."""
    draw = chance().integers(0, 3 * share, len(keys))
    changed = np.where(draw == 0, keys + 1_000_000, keys)
    doubled = np.repeat(changed, np.where(draw == 1, 0, np.where(draw == 2, 2, 1)))
    return np.asarray(doubled, np.int64)


def alternating(count: int) -> Keys:
    return np.arange(count, dtype=np.int64) % 2


def repetitive(count: int) -> Keys:
    return np.arange(count, dtype=np.int64) % 350


def sequences(count: int) -> Pair:
    """Sequences of twenty blocks each, half of them the same in every sequence, shuffled."""
    parts = np.arange(count - count % 20, dtype=np.int64).reshape(-1, 20)
    parts[:, ::2] %= 20
    return parts.reshape(-1), parts[chance().permutation(len(parts))].reshape(-1)


HOSTILE: dict[str, Callable[[int], Pair]] = {
    "all equal, edited": lambda n: (np.zeros(n, np.int64), with_edits(np.zeros(n, np.int64))),
    "all equal, half as many": lambda n: (np.zeros(n, np.int64), np.zeros(n // 2, np.int64)),
    "two alternating, edited": lambda n: (alternating(n), with_edits(alternating(n))),
    "two alternating, shifted": lambda n: (alternating(n), np.append(alternating(n)[1:], 7)),
    "repetitive, edited": lambda n: (repetitive(n), with_edits(repetitive(n))),
    "repetitive, reversed": lambda n: (repetitive(n), repetitive(n)[::-1].copy()),
    "repetitive, shuffled": lambda n: (repetitive(n), chance().permutation(repetitive(n))),
    "two at random": lambda n: (chance().integers(0, 2, n), np.random.default_rng(12).integers(0, 2, n)),
    "unique, reversed": lambda n: (np.arange(n), np.arange(n)[::-1].copy()),
    "unique, shuffled": lambda n: (np.arange(n), chance().permutation(n)),
    "sequences, shuffled": sequences,
}
PAIRED = {"all equal, edited": 0.98, "two alternating, edited": 0.98, "repetitive, edited": 0.98, "two alternating, shifted": 0.99,
    "all equal, half as many": 0.5, "sequences, shuffled": 0.95}  # fmt: skip
"""How great a part of the old blocks must find a partner."""


@pytest.mark.parametrize("name", HOSTILE)
def test_no_input_costs_more_than_a_fixed_amount_for_each_block(name: str) -> None:
    per_block = []
    for count in (6_000, 24_000):
        old, new = HOSTILE[name](count)
        blocks = len(old) + len(new)
        rungs = [Rung(old.astype(np.uint64), new.astype(np.uint64), "key", 3)]
        work = Work(LEAST_CELLS + CELLS_PER_BLOCK * blocks)
        found = align(rungs, work=work)
        back = align([rungs[0].exchanged()]).mirrored()
        assert_same(found, back)
        assert (found.old_to_new >= 0).sum() >= PAIRED.get(name, 0) * len(old)
        per_block.append(work.cells / blocks)
    # The limit of the search is so many cells and so many for each block: four times the blocks never cost four times as much for each.
    assert per_block[1] < 2 * max(per_block[0], 200), per_block


TOOLS = {1: "X58. Z-30.", 2: "X44. Z-12.", 3: "X36. Z-50.", 4: "X20. Z-8."}


def tool(number: int, words: str = "", feed: str = "F0.2") -> str:
    x, z = (words or TOOLS[number]).split()
    cut = f"G00 {x} Z{number}.\nG01 {z} {feed}\n{x}5\nG00 Z{number}.5\n"
    return f"N{number} G00 G40 G97 G99\nT0{number}0{number}\nG96 S1{number}0 M03\n{cut}G28 U0. W0.\nM09\nM05\nM01\n"


def whole(*parts: str) -> str:
    return "".join(parts)


OLD = whole(tool(1), tool(2), tool(3), tool(4))


@pytest.mark.parametrize(
    ("new", "kinds"),
    [
        (whole(tool(1), tool(3), tool(2), tool(4)), [("moved", 11, 11)]),
        (whole(tool(1), tool(2), tool(4)), [("removed", 11, 0)]),
        (whole(tool(1), tool(2), tool(2), tool(3), tool(4)), [("added", 0, 11)]),
        (whole(tool(4), tool(1), tool(2), tool(3)), [("moved", 11, 11)]),
        (OLD.replace("F0.2", "F0.3"), [("changed", 1, 1)] * 4),
        (whole(tool(1), tool(2), tool(4, "X50. Z-70.").replace("S140", "S90"), tool(3)), None),
    ],
    ids=["exchanged", "removed", "twice", "last-first", "every-feed", "moved-and-edited"],
)
def test_whole_sequences_and_columns_are_told_as_such(new: str, kinds: list[tuple[str, int, int]] | None) -> None:
    found = [(e.kind, len(e.old), len(e.new)) for e in pair(OLD, new).edits.edits]
    if kinds is None:
        assert [kind for kind, _, _ in found].count("moved") == 1 and len(found) <= 6, found
    else:
        assert found == kinds


@pytest.mark.parametrize(
    "rewrite",
    [
        lambda text: text.replace("Z-", "Z-1"),
        lambda text: text.replace("F0.2", "F0.25"),
        lambda text: "\n".join(f"N{10 * k + 1000} {line}".replace("\nN", "\n") for k, line in enumerate(text.split("\n")) if line),
        lambda text: re.sub("([XZ]-?)", r"\g<1>1", text),
    ],
    ids=["every-z", "every-feed", "renumbered", "all-coordinates"],
)  # fmt: skip
def test_a_whole_column_rewritten_leaves_every_block_with_its_own(rewrite: Callable[[str], str]) -> None:
    body = "".join(f"G00 X{20 + k}. Z{k % 9}.\nG01 Z-{30 + k}.5 F0.2\nX{60 + k}.\n" for k in range(40))
    found = align_words(read(body), read(rewrite(body)))
    assert found.old_to_new.tolist() == list(range(120))
    assert not found.moved.any()
