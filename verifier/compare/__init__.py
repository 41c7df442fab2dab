"""Takes two programs as machines run them; gives the edits, where behaviour differs, and which edit did it.

Never judges what a difference weighs and never reads a program's text to decide what happens.
"""

from __future__ import annotations

from verifier.compare.causes import PROFILE, Effect
from verifier.compare.comparison import (
    DIFFERENT,
    SAME,
    UNDETERMINED,
    Comparison,
    Side,
    Switched,
    compare,
    levels_of,
    side,
)
from verifier.compare.differences import Difference, match
from verifier.compare.edits import ADDED, CHANGED, MOVED, REMOVED, REPLACED, WORDING, Edit, Edits, Pairing, find_edits
from verifier.compare.items import BENT, Item, Items, Place, items_of
from verifier.compare.outside import Tried, try_keys
from verifier.compare.outside_keys import Outside
from verifier.compare.worddiff import WordChange, same_value, word_changes

__all__ = [
    "ADDED",
    "BENT",
    "CHANGED",
    "DIFFERENT",
    "MOVED",
    "PROFILE",
    "REMOVED",
    "REPLACED",
    "SAME",
    "UNDETERMINED",
    "WORDING",
    "Comparison",
    "Difference",
    "Edit",
    "Edits",
    "Effect",
    "Item",
    "Items",
    "Outside",
    "Pairing",
    "Place",
    "Side",
    "Switched",
    "Tried",
    "WordChange",
    "compare",
    "find_edits",
    "items_of",
    "levels_of",
    "match",
    "same_value",
    "side",
    "try_keys",
    "word_changes",
]
