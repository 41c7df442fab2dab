"""Passwords that are tried first, and the words of a person and a shop that make a password easy to guess.

The list is short on purpose (from memory): it holds roots that lists of stolen passwords begin with, and words of this
trade. Small changes to a root (capitals, figures or signs at its ends, figures for letters) do not hide it.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise

_KEYBOARD = "qwerty qwertz azerty qwertyuiop qwertzuiop asdfghjkl yxcvbnm zxcvbnm asdfgh qazwsx qweasd qweasdzxc"
_COMMON = (
    "password passwort passw pass kennwort motdepasse contrasena abcd abcdef abcdefg abcdefgh abcdefghi iloveyou loveyou"
    " welcome willkommen letmein login logon sunshine princess football baseball basketball hockey soccer fussball monkey"
    " dragon master shadow starwars trustno freedom whatever hunter summer winter spring autumn sommer january february"
    " march april june july august september october november december monday friday secret geheim hello hallo computer"
    " internet changeme change default guest admin administrator root user test testtest tester demo service system server"
    " access cheese chocolate cookie flower butterfly orange banana purple yellow silver golden diamond killer phoenix"
    " ginger pepper rocket thunder eagle falcon blessed family angel heaven lovely money"
)
_TRADE = (
    "machine machinist lathe mill turning milling spindle tool tools toolroom workshop shop shopfloor cnc program"
    " programmer operator lead foreman chuck turret offset coolant swarf drehen drehbank werkstatt maschine verifier verify"
)
_ROOTS = frozenset(f"{_KEYBOARD} {_COMMON} {_TRADE}".split())

_LETTERS = str.maketrans("013457@$!", "oieastasi")
_RUNS = ("1234567890", "0987654321")


def is_common(password: str, known: Iterable[str] = ()) -> bool:
    """Whether a password is among those tried first, or is little more than a word known of its person."""
    text = password.casefold()
    if len(set(text)) < 4 or _straight(text):
        return True
    inner = text[_edge(text) : len(text) - _edge(text[::-1])]
    cores = {_letters(inner), _letters(inner.translate(_LETTERS))}
    words = {_letters(word.casefold()) for entry in known for word in (entry, *entry.split())} - {""}
    return any(core in _ROOTS or core in words or _twice(core) for core in sorted(cores))


def _edge(text: str) -> int:
    """How many characters stand before the first letter."""
    return next((k for k, c in enumerate(text) if c.isalpha()), 0)


def _letters(text: str) -> str:
    return "".join(c for c in text if c.isalpha())


def _twice(core: str) -> bool:
    """Whether a text is one of the words twice over."""
    half = len(core) // 2
    return core[:half] == core[half:] and core[:half] in _ROOTS


def _straight(text: str) -> bool:
    """Whether every character follows the one before it, up or down, as in 23456789."""
    return {ord(b) - ord(a) for a, b in pairwise(text)} in ({1}, {-1}) or text in _RUNS
