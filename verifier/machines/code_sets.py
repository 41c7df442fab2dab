"""The three code sets of lathes: which code of each stands for which function.

One function has one *meaning* in the engine: the name that code set A gives it, or a word where set A has no code for it. What a program
says is turned into meanings once, by the set that the machine profile declares; what people read is turned back. Codes that stand in no row mean
the same in every set. Source: common practice, no source.
"""

from __future__ import annotations

import re
from typing import NamedTuple

ABSOLUTE = "absolute"
INCREMENTAL = "incremental"
TO_INITIAL = "to-initial-level"
TO_R = "to-r-level"

SETS = ("A", "B", "C")


class Function(NamedTuple):
    """A function in shop words, its meaning in the engine, and its code in each set ("" where a set has none)."""

    words: str
    meaning: str
    a: str
    b: str
    c: str


FUNCTIONS = (
    Function("turning cycle", "G90", "G90", "G77", "G20"),
    Function("thread cutting cycle", "G92", "G92", "G78", "G21"),
    Function("facing cycle", "G94", "G94", "G79", "G24"),
    Function("threading move", "G32", "G32", "G33", "G33"),
    Function("absolute coordinates", ABSOLUTE, "", "G90", "G90"),
    Function("increments", INCREMENTAL, "", "G91", "G91"),
    Function("feed per minute", "G98", "G98", "G94", "G94"),
    Function("feed per revolution", "G99", "G99", "G95", "G95"),
    Function("speed clamp or coordinate preset", "G50", "G50", "G92", "G92"),
    Function("inches", "G20", "G20", "G20", "G70"),
    Function("millimetres", "G21", "G21", "G21", "G71"),
    Function("return to the initial level", TO_INITIAL, "", "G98", "G98"),
    Function("return to the R level", TO_R, "", "G99", "G99"),
    Function("finishing cycle", "G70", "G70", "G70", "G72"),
    Function("rough turning cycle", "G71", "G71", "G71", "G73"),
    Function("rough facing cycle", "G72", "G72", "G72", "G74"),
    Function("pattern repeating cycle", "G73", "G73", "G73", "G75"),
    Function("face pecking cycle", "G74", "G74", "G74", "G76"),
    Function("grooving cycle", "G75", "G75", "G75", "G77"),
    Function("multi-pass threading cycle", "G76", "G76", "G76", "G78"),
)
"""Every function whose code is not the same in all sets."""

_MEANINGS = {name: {code: row.meaning for row in FUNCTIONS if (code := row[2 + k])} for k, name in enumerate(SETS)}
_NAMES = {name: {row.meaning: row[2 + k] for row in FUNCTIONS} for k, name in enumerate(SETS)}
_SOMEWHERE = frozenset(code for found in _MEANINGS.values() for code in found)


def meaning(code: str, code_set: str) -> str | None:
    """What a code ("G98") means in a code set; None where it is a code of other sets only."""
    found = _MEANINGS[code_set].get(code)
    if found is not None:
        return found
    return None if code in _SOMEWHERE else code


def code_name(meaning: str, code_set: str) -> str:
    """The code that a machine of this set has for a meaning; the meaning itself where it has none."""
    return _NAMES[code_set].get(meaning, meaning) or meaning


def spoken(text: str, code_set: str) -> str:
    """A text with meanings in braces ("{G98} or {G99}") in the codes of a set."""
    return re.sub(r"\{([^{}]+)\}", lambda found: code_name(found[1], code_set), text)


def other_sets(code: str, code_set: str) -> dict[str, str]:
    """The other sets that have a code with another meaning -> its function there in shop words."""
    here = meaning(code, code_set)
    found = {}
    for k, name in enumerate(SETS):
        row = next((row for row in FUNCTIONS if row[2 + k] == code), None)
        if row is not None and name != code_set and row.meaning != here:
            found[name] = row.words
    return found


__all__ = [
    "ABSOLUTE",
    "FUNCTIONS",
    "INCREMENTAL",
    "SETS",
    "TO_INITIAL",
    "TO_R",
    "Function",
    "code_name",
    "meaning",
    "other_sets",
    "spoken",
]
