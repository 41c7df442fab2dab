"""Keys of blocks, from the words of two parsed programs: the rungs that `align` climbs.

A key is the sum, modulo 2**64, of one hash per word, so the order of the words in a block takes no part. A word is
hashed from its letter, its exact value (X25. = X25.000, G1 = G01) and, at rung 0 only, whether it had a decimal point:
a machine may read X25 as 25 increments, so at rung 0 X25 and X25. are different words. From rung 1 on they are equal,
because a lost or added point is an edit *inside* a block that is otherwise the same one. Whether the point is hashed is
thus a property of the rung, never of the word. G and M words go by number, with or without a point. N words take no part.

What a block holds beside words with numbers (macro statements, expressions, skip marks, text that could not be read)
takes part as text, twice: as it stands, and at the looser rungs as its shape, without its numbers.

Equal keys at rung 0 mean: equal words, apart from their order and spelling and from block numbers. It takes a comparison
of words to say more.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from hashlib import blake2b
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from verifier.compare.align_anchor import Index, Keys, Mask, mix, spread
from verifier.compare.align_rung import Rung, Rungs
from verifier.source import VerifierError

TEXT, SHAPE = b"\x01", b"\x02"
"""Letters of the two words that stand for a text."""

_COORDINATES = b"XYZUVWIJKRABC"
_AMOUNTS = _COORDINATES + b"FSPQDEHLO"
_CODES = b"GM"


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


@dataclass(frozen=True, slots=True, eq=False)
class Words:
    """The words of every block of one program, ready to be hashed.

    Those of block b stand from `row[b]` to `row[b + 1]`. The value of a word is `value / 10**decimals` with as few
    decimals as it needs; `pointed` says whether it had a point (never for G and M).
    """

    row: Index
    letter: NDArray[np.uint8]
    value: Index
    decimals: Index
    pointed: Mask

    def __len__(self) -> int:
        """How many blocks."""
        return len(self.row) - 1

    def take(self, blocks: Index) -> Words:
        """The words of these blocks only, in this order."""
        length = self.row[blocks + 1] - self.row[blocks]
        owner, offset = spread(length)
        word = self.row[blocks][owner] + offset
        row = np.concatenate((np.zeros(1, np.int64), np.cumsum(length)))
        return Words(row, self.letter[word], self.value[word], self.decimals[word], self.pointed[word])


@dataclass(frozen=True, slots=True)
class Reading:
    """How one rung reads the words of a block.

    `drop`: letters that take no part; `presence`: letters of which only the presence counts; `round_to`: decimals to
    which coordinates are rounded, half away from zero, or None; `points`: whether a decimal point counts;
    `least_move_run`: as in `Rung`.
    """

    name: str
    drop: bytes
    presence: bytes = b""
    round_to: int | None = None
    points: bool = False
    least_move_run: int = 4


LADDER = (
    Reading("all words", b"N" + SHAPE, points=True, least_move_run=3),
    Reading("all but feed and speed", b"NFS" + SHAPE),
    Reading("coordinates to a hundredth", b"NFS" + SHAPE, round_to=2),
    Reading("letters and codes", b"N" + TEXT, presence=_AMOUNTS, least_move_run=0),
    Reading("letters", b"N" + TEXT, presence=_AMOUNTS + b"GMT", least_move_run=0),
)


def words_of(columns: WordColumns, texts: Mapping[int, str]) -> Words:
    """The words of all blocks: those in the columns, and for each block in `texts` that text (unless empty) as one more.

    Texts are canonical: equal where two blocks say the same, without comments and block numbers. Every block that is not
    plain needs one; raises VerifierError where it is missing.
    """
    missing = [block for block in np.flatnonzero(~columns.plain).tolist() if block not in texts]
    if missing:
        raise VerifierError(f"no text given for block {missing[0]}, which is not plain ({len(missing)} such blocks)")
    value, decimals = _shortest(columns.mantissa, columns.decimals)
    pointed = (columns.decimals >= 0) & ~_among(columns.letter, _CODES)
    told = [block for block in sorted(texts) if texts[block]]
    hashes = np.array([(_text_hash(texts[b]), _text_hash(_shape(texts[b]))) for b in told], np.uint64).view(np.int64)
    block = np.repeat(np.array(told, np.int64), 2)
    place = columns.row[block + 1]  # behind the block's other words
    row = columns.row + np.searchsorted(block, np.arange(len(columns.row)))
    return Words(
        row,
        np.insert(columns.letter, place, np.tile(np.frombuffer(TEXT + SHAPE, np.uint8), len(told))),
        np.insert(value, place, hashes.reshape(-1)),
        np.insert(decimals, place, 0),
        np.insert(pointed, place, False),
    )


def ladder(old: Words, new: Words, readings: tuple[Reading, ...] = LADDER) -> Rungs:
    """The rungs for `align`, strictest first; each is made when it is first used."""

    def rung(reading: Reading) -> Rung:
        return Rung(block_keys(old, reading), block_keys(new, reading), reading.name, reading.least_move_run)

    return Rungs.made_by(partial(rung, reading) for reading in readings)


def block_keys(words: Words, reading: Reading) -> Keys:
    """One key per block."""
    total = np.concatenate((np.zeros(1, np.uint64), np.cumsum(word_hashes(words, reading), dtype=np.uint64)))
    keys: Keys = total[words.row[1:]] - total[words.row[:-1]]
    return keys


def word_hashes(words: Words, reading: Reading) -> Keys:
    """One hash per word, 0 where it takes no part."""
    value, decimals = words.value, words.decimals
    if reading.round_to is not None:
        value, decimals = _rounded(value, decimals, reading.round_to, _among(words.letter, _COORDINATES))
    kind = words.letter.astype(np.uint64)
    if reading.presence:
        given = ~_among(words.letter, reading.presence)
        value, decimals = np.where(given, value, 0), np.where(given, decimals, 0)
        kind += given.astype(np.uint64) << np.uint64(16)
    kind += decimals.astype(np.uint64) << np.uint64(8)
    if reading.points:
        kind += words.pointed.astype(np.uint64) << np.uint64(17)
    hashes = mix(mix(kind) + value.view(np.uint64))
    hashes[_among(words.letter, reading.drop)] = 0
    return hashes


def _among(letter: NDArray[np.uint8], letters: bytes) -> Mask:
    table = np.zeros(256, bool)
    table[list(letters)] = True
    return table[letter]


def _shortest(mantissa: Index, decimals: NDArray[np.int8]) -> tuple[Index, Index]:
    """The same values with as few decimals as they need (25.000 becomes 25, 0 decimals), exactly."""
    value = mantissa.astype(np.int64, copy=True)
    left = np.maximum(decimals, 0).astype(np.int64)
    for step in (16, 8, 4, 2, 1):  # greedy: any count of trailing zeros up to 31 is a sum of these
        power = np.int64(10**step)
        some = np.flatnonzero(left >= step)
        some = some[value[some] % power == 0]
        value[some] //= power
        left[some] -= step
    return value, left


def _rounded(value: Index, decimals: Index, places: int, which: Mask) -> tuple[Index, Index]:
    """These values rounded to so many decimals, half away from zero, in integers throughout."""
    some = np.flatnonzero(which & (decimals > places))
    if not len(some):
        return value, decimals
    power = 10 ** np.minimum(decimals[some] - places, 18)
    whole, rest = np.divmod(np.abs(value[some]), power)
    whole += rest >= power - rest
    value, decimals = value.copy(), decimals.copy()
    value[some], decimals[some] = _shortest(np.sign(value[some]) * whole, np.full(len(some), places, np.int8))
    return value, decimals


_NUMBER = re.compile(r"[0-9]+\.?[0-9]*|\.[0-9]+")


def _shape(text: str) -> str:
    """A text with all its numbers made equal."""
    return _NUMBER.sub("0", text)


def _text_hash(text: str) -> int:
    return int.from_bytes(blake2b(text.encode("utf-8", "surrogatepass"), digest_size=8).digest(), "little")
