"""Two programs' words aligned block by block: the ladder of keys, then similar blocks."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from verifier.compare.align import Alignment, align
from verifier.compare.align_similar import pair_similar
from verifier.compare.keys import LADDER, Words, ladder

SIMILAR = len(LADDER)
"""The rung number of pairs that agree at no rung but have most of their words in common."""


def align_words(
    old: Words,
    new: Words,
    old_sections: NDArray[np.int64] | None = None,
    new_sections: NDArray[np.int64] | None = None,
    *,
    section_keys_old: NDArray[np.uint64] | None = None,
    section_keys_new: NDArray[np.uint64] | None = None,
) -> Alignment:
    """Which old block is which new block; sections as for `align`.

    `rung` is 0 for equal words, up to `SIMILAR` for the least alike. Exchanging the two programs mirrors the result.
    """
    found = align(
        ladder(old, new),
        old_sections,
        new_sections,
        section_keys_old=section_keys_old,
        section_keys_new=section_keys_new,
    )
    return pair_similar(found, old, new, SIMILAR)
