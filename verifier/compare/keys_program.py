"""A parsed program as words for the keys: plain blocks from its columns, every other block piece by piece.

In a block that is not plain, words with numbers become words like any other, so that an edited feed behind a skip mark
is still an edited feed; the rest (statements, expressions, skip marks, unread text) becomes the block's text.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from verifier.compare.align_anchor import Index, Mask
from verifier.compare.keys import Words, words_of
from verifier.syntax import Block, Program, Word, canonical_number, read_number, word_key

_LARGEST = 2**62
_NUMBER = re.compile(r"(?<![0-9.])(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?![0-9.])")


@dataclass(frozen=True, slots=True, eq=False)
class _Columns:
    row: Index
    letter: NDArray[np.uint8]
    mantissa: Index
    decimals: NDArray[np.int8]
    plain: Mask


def program_words(program: Program) -> Words:
    """The words of all blocks of a program, block numbers and comments apart."""
    columns = program.columns
    odd = np.flatnonzero(~columns.plain).tolist()
    texts: dict[int, str] = {}
    owner: list[int] = []
    counts: list[tuple[int, int, int]] = []
    for at in odd:
        block = program.blocks[at]
        counted = [] if block.flaws else [found for word in block.words if (found := _counted(word)) is not None]
        texts[at] = _unread(program, block) if block.flaws else _rest(block)
        owner += [at] * len(counted)
        counts += counted
    more = np.array(counts, np.int64).reshape(-1, 3)
    block_of = np.array(owner, np.int64)
    place = columns.row[block_of]
    merged = _Columns(
        columns.row + np.searchsorted(block_of, np.arange(len(columns.row))),
        np.insert(columns.letter, place, more[:, 0].astype(np.uint8)),
        np.insert(columns.mantissa, place, more[:, 1]),
        np.insert(columns.decimals, place, more[:, 2].astype(np.int8)),
        columns.plain,
    )
    return words_of(merged, texts)


def _counted(word: Word) -> tuple[int, int, int] | None:
    """Letter, mantissa and decimals of a word that fits in columns of integers; None for any other."""
    number = word.number
    if number is None or len(word.letter) != 1 or not word.letter.isascii():
        return None
    mantissa, decimals = number.mantissa, number.decimals
    while decimals > 0 and mantissa % 10 == 0:
        mantissa, decimals = mantissa // 10, decimals - 1
    return (ord(word.letter), mantissa, decimals) if abs(mantissa) < _LARGEST and decimals <= 18 else None


def _rest(block: Block) -> str:
    """What a block holds beside counted words, canonically; N words don't count for where a skip mark stands."""
    pieces = [
        f"/{max(skip.level, 1)}@{sum(word.letter != 'N' for word in block.words[: skip.before])}"
        for skip in block.skips
    ]
    pieces += [word_key(word) for word in block.words if _counted(word) is None]
    pieces += [_NUMBER.sub(lambda match: canonical_number(read_number(match[0])), macro.text) for macro in block.macros]
    return " ".join(pieces)


def _unread(program: Program, block: Block) -> str:
    """The whole line of a block that was not understood, without its block number."""
    line = program.source.line_text(block.line)
    for word in sorted(block.words, key=lambda word: -word.column):
        if word.letter == "N":
            line = line[: word.column - 1] + line[word.column - 1 + len(word.text) :]
    return "?" + " ".join(line.upper().split())
