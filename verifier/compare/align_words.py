"""Two programs' words aligned block by block: strict rungs, likeness where a window is small, loose rungs, short moves."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from verifier.compare.align import Alignment, align, climb_on, move_near
from verifier.compare.align_similar import pair_similar
from verifier.compare.keys import LADDER, Words, ladder

SIMILAR = len(LADDER)
"""The rung number of pairs that agree at no rung but have most of their words in common."""

STRICT = 3
"""Rungs that still look at coordinates; the looser ones would pair what merely has the same letters."""


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
    rungs = ladder(old, new)
    found = align(
        rungs[:STRICT],
        old_sections,
        new_sections,
        section_keys_old=section_keys_old,
        section_keys_new=section_keys_new,
    )
    found = pair_similar(found, rungs[0], (old, new), SIMILAR, lonely=False)
    found = climb_on(found, rungs, STRICT)
    found = pair_similar(found, rungs[0], (old, new), SIMILAR, lonely=True)
    return move_near(found, rungs[0])
