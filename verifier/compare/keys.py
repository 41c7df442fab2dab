"""Keys of blocks, from the columns of two parsed programs: the rungs that `align` climbs.

A key is the sum, modulo 2**64, of one hash per word, so the order of the words in a block takes no part. A word is
hashed from its letter, its exact value (X25. = X25.000, G1 = G01) and, at rung 0 only, whether it had a decimal point:
a machine may read X25 as 25 increments, so at rung 0 X25 and X25. are different words. From rung 1 on they are equal,
because a lost or added point is an edit *inside* a block that is otherwise the same one. Whether the point is hashed is
thus a property of the rung, never of the word. N words take no part at any rung.

A block that is not plain (macro statements, expressions, skip marks, flaws) has no words in the columns; its key is the
hash of a text that the caller supplies. Equal keys at rung 0 mean: equal words, apart from their order and spelling and
from block numbers. It takes a comparison of words to say more.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from hashlib import blake2b
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from verifier.compare.align import Rung
from verifier.compare.align_anchor import Index, Keys, Mask, mix
from verifier.source import VerifierError

COORDINATES = b"XYZUVWIJKRABC"
AMOUNTS = COORDINATES + b"FSPQDEHL"
"""Letters whose value the loosest rung ignores; what stays are G, M, T and O with their numbers."""


class WordColumns(Protocol):
    """The words of a program as arrays; those of block b, if it is plain, stand from `row[b]` to `row[b + 1]`."""

    @property
    def row(self) -> NDArray[np.int64]:
        """Where each block's words start; one more entry than blocks."""

    @property
    def letter(self) -> NDArray[np.uint8]:
        """Upper case ASCII per word."""

    @property
    def mantissa(self) -> NDArray[np.int64]:
        """Digits of the value without its point, signed."""

    @property
    def decimals(self) -> NDArray[np.int8]:
        """Digits after the point; -1 without a point."""

    @property
    def plain(self) -> NDArray[np.bool_]:
        """Per block: whether its words are in the columns."""


@dataclass(frozen=True, slots=True)
class Blocks:
    """One side of a comparison: its columns, and a text for every block that is not plain.

    A text given for a plain block is added to its key (a skip mark, say). The texts are canonical: equal where two
    blocks say the same, without comments and block numbers.
    """

    columns: WordColumns
    texts: Mapping[int, str]


@dataclass(frozen=True, slots=True)
class Reading:
    """How one rung reads the words of a block.

    `drop`: letters that take no part; `presence`: letters of which only the presence counts; `quantum`: decimals to
    which coordinates are rounded (half away from zero), None for exact; `points`: whether a decimal point counts;
    `shape`: whether numbers in texts are left out, except those of G, M, T and variables.
    """

    name: str
    drop: bytes = b"N"
    presence: bytes = b""
    quantum: int | None = None
    points: bool = False
    shape: bool = False
    least_move_run: int = 4


LADDER = (
    Reading("all words", points=True, least_move_run=1),
    Reading("all but feed and speed", drop=b"NFS"),
    Reading("coordinates to a hundredth", drop=b"NFS", quantum=2),
    Reading("letters and codes", presence=AMOUNTS, shape=True, least_move_run=0),
)


def ladder(old: Blocks, new: Blocks, readings: tuple[Reading, ...] = LADDER) -> tuple[Rung, ...]:
    """The rungs for `align`, strictest first. Raises VerifierError where a block that is not plain has no text."""
    return tuple(
        Rung(block_keys(old, reading), block_keys(new, reading), reading.name, reading.least_move_run)
        for reading in readings
    )


def block_keys(blocks: Blocks, reading: Reading) -> Keys:
    """One key per block. Raises VerifierError where a block that is not plain has no text."""
    columns = blocks.columns
    hashes = _word_hashes(columns, reading)
    total = np.concatenate((np.zeros(1, np.uint64), np.cumsum(hashes, dtype=np.uint64)))
    keys: Keys = total[columns.row[1:]] - total[columns.row[:-1]]
    missing = [block for block in np.flatnonzero(~columns.plain).tolist() if block not in blocks.texts]
    if missing:
        raise VerifierError(f"no text given for block {missing[0]}, which is not plain ({len(missing)} such blocks)")
    told = sorted(blocks.texts)
    keys[np.array(told, np.int64)] += np.array([_text_hash(blocks.texts[block], reading) for block in told], np.uint64)
    return keys


def _word_hashes(columns: WordColumns, reading: Reading) -> Keys:
    letter = columns.letter
    value, decimals = _shortest(columns.mantissa, columns.decimals)
    if reading.quantum is not None:
        value, decimals = _rounded(value, decimals, reading.quantum, _among(letter, COORDINATES))
    given = ~_among(letter, reading.presence)
    value, decimals = np.where(given, value, 0), np.where(given, decimals, 0)
    kind = letter.astype(np.uint64) + (decimals.astype(np.uint64) << np.uint64(8))
    kind += given.astype(np.uint64) << np.uint64(16)
    if reading.points:
        kind += (given & (columns.decimals >= 0)).astype(np.uint64) << np.uint64(17)
    hashes = mix(mix(kind + np.uint64(1)) + value.view(np.uint64))
    hashes[_among(letter, reading.drop)] = 0
    return hashes


def _among(letter: NDArray[np.uint8], letters: bytes) -> Mask:
    table = np.zeros(256, bool)
    table[list(letters)] = True
    return table[letter]


def _shortest(mantissa: NDArray[np.int64], decimals: NDArray[np.int8]) -> tuple[Index, Index]:
    """The same values with as few decimals as they need (25.000 becomes 25, 0 decimals), exactly."""
    value = mantissa.astype(np.int64, copy=True)
    left = np.maximum(decimals, 0).astype(np.int64)
    for step in (16, 8, 4, 2, 1):  # greedy: any count of trailing zeros up to 31 is a sum of these
        power = np.int64(10**step)
        some = np.flatnonzero(left >= step)
        some = some[value[some] % power == 0]
        value[some] //= power
        left[some] -= step
    left[value == 0] = 0
    return value, left


def _rounded(value: Index, decimals: Index, quantum: int, which: Mask) -> tuple[Index, Index]:
    """These values rounded to so many decimals, half away from zero, in integers throughout."""
    some = np.flatnonzero(which & (decimals > quantum))
    power = 10 ** np.minimum(decimals[some] - quantum, 18)
    whole, rest = np.divmod(np.abs(value[some]), power)
    whole += rest >= power - rest
    value, decimals = value.copy(), decimals.copy()
    value[some], decimals[some] = np.sign(value[some]) * whole, quantum
    return _shortest(value, decimals.astype(np.int8))


_NUMBER = re.compile(r"(?<![GMT#0-9.])(?:[0-9]+\.?[0-9]*|\.[0-9]+)")


def _text_hash(text: str, reading: Reading) -> int:
    if reading.shape:
        text = _NUMBER.sub("0", text)
    digest = blake2b(text.encode("utf-8", "surrogatepass"), digest_size=8).digest()
    return int.from_bytes(digest, "little")
