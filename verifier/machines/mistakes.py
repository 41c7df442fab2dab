"""Mistakes in a file as lines of one form: `file: key.path: got ..., expected ... (did you mean ...)`."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from difflib import get_close_matches
from fractions import Fraction
from typing import Any

NOTHING = "nothing"
"""What a mistake got where a key is missing."""

_LONGEST_VALUE = 60


@dataclass(frozen=True, slots=True)
class Mistake:
    """One mistake: the key path it is at, what stands there, what was expected, and a near miss where there is one."""

    path: tuple[str | int, ...]
    got: str
    expected: str
    near: str = ""

    def line(self, file: str) -> str:
        """The mistake as one line of text."""
        key = ".".join(_key(part) for part in self.path) or "(whole file)"
        hint = f" (did you mean {self.near}?)" if self.near else ""
        return f"{file}: {key}: got {self.got}, expected {self.expected}{hint}"


def _key(part: str | int) -> str:
    """A part of a key path as TOML would have it: in quotes where it is not plain."""
    plain = isinstance(part, int) or re.fullmatch(r"[A-Za-z0-9_-]{1,60}", part)
    return str(part) if plain else shown(part)


def shown(value: Any) -> str:
    """A value as it may stand in a TOML file, shortened where it is long."""
    if isinstance(value, bool):
        text = "true" if value else "false"
    elif isinstance(value, str):
        text = '"' + value.encode("unicode_escape").decode("ascii") + '"'
    elif isinstance(value, Fraction):
        text = f"{(Decimal(value.numerator) / value.denominator).normalize():f}"
    elif isinstance(value, dict):
        text = "a table"
    elif isinstance(value, list):
        text = "[" + ", ".join(shown(item) for item in value[:8]) + (", ..." if len(value) > 8 else "") + "]"
    else:
        text = str(value)
    return text if len(text) <= _LONGEST_VALUE else text[:_LONGEST_VALUE] + "..."


def nearest(word: Any, allowed: Iterable[str]) -> str:
    """The allowed word nearest to a wrong one, or nothing where none is near."""
    if not isinstance(word, str):
        return ""
    found = get_close_matches(word.lower().replace("_", "-"), list(allowed), n=1, cutoff=0.6)
    found = found or get_close_matches(word, list(allowed), n=1, cutoff=0.6)
    return found[0] if found else ""


def not_one_of(path: tuple[str | int, ...], value: Any, allowed: Sequence[str]) -> Mistake:
    """The mistake of a value that is none of the allowed ones."""
    return Mistake(path, shown(value), "one of " + ", ".join(allowed), nearest(value, allowed))


def unknown_key(path: tuple[str | int, ...], allowed: Sequence[str]) -> Mistake:
    """The mistake of a key that nothing reads."""
    return Mistake(path, "an unknown key", "one of " + ", ".join(allowed), nearest(path[-1], allowed))
