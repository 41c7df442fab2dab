"""How alike two programs are, block by block, and a short sketch by which a like one is found among very many.

A block counts without its number, canonically spelled. The sketch holds the smallest hashes of pairs of neighbouring blocks: two programs share as
much of their sketches as of their pairs, about (bottom-k sketches; the law is tested, not quoted).
"""

from __future__ import annotations

import re
from collections import Counter
from hashlib import blake2b
from itertools import pairwise

from verifier.syntax.canonical import canonical_words
from verifier.syntax.program import Program

SKETCH = 32
"""Hashes in a sketch: enough for programs that share a third of their pairs to share some for certain."""
_NUMBER = re.compile(rb"(?:(?<=^)|(?<= ))N[0-9.]+(?: |$)")


def plain_blocks(program: Program) -> tuple[bytes, ...]:
    """The blocks without their numbers, canonically spelled; blocks that hold nothing else are left out."""
    lines = canonical_words(program).split(b"\n")
    return tuple(text for line in lines if (text := _NUMBER.sub(b"", line).strip()))


def sketch(program: Program) -> tuple[int, ...]:
    """The smallest hashes of the program's pairs of neighbouring blocks, rising, each from 0 up to 2**63."""
    blocks = plain_blocks(program)
    pairs = {a + b"\n" + b for a, b in pairwise(blocks)}
    found = (int.from_bytes(blake2b(pair, digest_size=8).digest(), "big") >> 1 for pair in pairs)
    return tuple(sorted(set(found))[:SKETCH])


def share_alike(one: Program, other: Program) -> float:
    """The share of the larger program's blocks that the other one has, too, each counted once (0 to 1)."""
    ours, theirs = Counter(plain_blocks(one)), Counter(plain_blocks(other))
    return (ours & theirs).total() / max(ours.total(), theirs.total(), 1)
