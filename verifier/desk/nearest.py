"""The program of the shop's library that is nearest to a first submission: a proposal to compare with, never a base by itself."""

from __future__ import annotations

from dataclasses import dataclass

from verifier import records
from verifier.records import Shop
from verifier.source import VerifierError, read_source
from verifier.syntax import Program, parse, share_alike, sketch

LEAST = 0.3
"""Nothing is proposed that is less alike: the same bound as that of programs that may not belong together."""
_CANDIDATES = 12
_BYTES = 4_000_000
"""So many bytes of candidates are read to count their blocks; the first candidate is read whatever its size."""
_AT_ONCE = 500


@dataclass(frozen=True, slots=True)
class Near:
    """The nearest revision: its program, target and number, and the share of alike blocks in per cent."""

    program: str
    target: str
    n: int
    percent: int

    def told(self) -> str:
        """The proposal in words."""
        return f"{self.percent} % of its blocks are those of {self.program} revision {self.n} for {self.target}: compare with that?"


def sketch_library(shop: Shop) -> None:
    """Sketch what came into the records since the last time."""
    while waiting := records.not_sketched(shop, _AT_ONCE):
        records.keep_sketches(shop, [(revision, _sketch_of(shop, sha)) for revision, sha in waiting])


def _sketch_of(shop: Shop, sha: str) -> tuple[int, ...]:
    """The sketch of stored bytes; none of what is no program."""
    try:
        return sketch(parse(read_source(records.body(shop, sha), sha[:12])))
    except VerifierError:
        return ()


def nearest(
    shop: Shop, read: Program, program: str, target: str, *, writing: bool = True, most_bytes: int = _BYTES
) -> Near | None:
    """The revision of another program with the greatest share of alike blocks, exactly counted on the best candidates; None below `LEAST`.

    With `writing` what came into the library since is sketched before; without, it is searched as it is, and nothing is written.
    """
    if writing:
        sketch_library(shop)
    best: Near | None = None
    share, size = LEAST, 0
    for one in records.like(shop, sketch(read), program, target, _CANDIDATES):
        data = records.body(shop, one.sha)
        size += len(data)
        if size > most_bytes and size > len(data):
            break
        alike = share_alike(read, parse(read_source(data, one.program)))
        if alike > share or (best is None and alike == share):
            best, share = Near(one.program, one.target, one.n, int(alike * 100)), alike
    return best
