"""Passwords and PINs of people: argon2id hashes, made again with today's cost when they are older.

A PIN is short, so its hash is keyed with the server key: the records alone do not let anybody try PINs. It shows that
the person who signed in still stands here, no more. Passwords may be any text of 8 characters or more that is not
among the common ones; no kinds of characters are asked for, and none is cut off.
"""

from __future__ import annotations

import unicodedata
from functools import cache

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from verifier.desk.common import is_common
from verifier.desk.key import ServerKey
from verifier.source import ActRefused

SHORTEST_PIN = 6
SHORTEST_PASSWORD = 8
LONGEST = 1024
"""So many characters are taken; more are refused, because hashing them would only cost time."""

_KEYED = "$hmac-sha256,k="
_HASHER = PasswordHasher(time_cost=2, memory_cost=19456, parallelism=1)
"""The least cost that a public guide for password storage advises: 19 MiB, two passes."""


def _plain(secret: str) -> str:
    """One form for what looks the same but is typed differently on another keyboard."""
    return unicodedata.normalize("NFKC", secret)


def password_hash(password: str, *known: str) -> str:
    """The hash of a new password; ActRefused where it is short, common, or one of the words `known` of the person."""
    if len(_plain(password)) < SHORTEST_PASSWORD:
        raise ActRefused(
            "short_secret", f"a password has at least {SHORTEST_PASSWORD} characters", "several words are fine"
        )
    if len(password) > LONGEST:
        raise ActRefused("long_secret", f"a password has at most {LONGEST} characters")
    if is_common(_plain(password), known):
        raise ActRefused(
            "common_secret", "this password is one of those tried first", "take several words that are yours"
        )
    return _HASHER.hash(_plain(password))


def password_proven(stored: str | None, password: str) -> bool:
    """Whether a password is the one whose hash is stored. Nothing stored costs the same work and proves nothing."""
    found = _verified(stored or _nobody(), _plain(password)) if len(password) <= LONGEST else False
    return found and stored is not None


def needs_rehash(stored: str) -> bool:
    """Whether a hash was made with less cost than today's."""
    return _HASHER.check_needs_rehash(stored)


def check_pin(pin: str) -> str:
    """Give a new PIN back; ActRefused where it is too short, too long or one that is tried first."""
    if len(pin) < SHORTEST_PIN:
        raise ActRefused("short_secret", f"a PIN has at least {SHORTEST_PIN} characters")
    if len(pin) > LONGEST:
        raise ActRefused("long_secret", f"a PIN has at most {LONGEST} characters")
    if len(set(pin)) < 3:
        raise ActRefused("common_secret", "this PIN is one of those tried first", "take one of three digits or more")
    return pin


def pin_hash(key: ServerKey, pin: str) -> str:
    """The keyed hash of a new PIN; ActRefused as `check_pin`."""
    check_pin(pin)
    return f"{_KEYED}{key.name}{_HASHER.hash(key.keyed('pin', _plain(pin)))}"


def pin_proven(key: ServerKey, stored: str | None, pin: str) -> bool:
    """Whether a PIN is the one whose hash is stored, keyed or from before there was a key.

    ActRefused `other_key` where the hash was keyed with another server key.
    """
    if stored is None or len(pin) > LONGEST:
        return False
    if not stored.startswith(_KEYED):
        return _verified(stored, pin)
    name, hashed = stored[len(_KEYED) :].split("$", 1)
    if name != key.name:
        raise ActRefused(
            "other_key",
            "the server key is not the one that the PINs were made with",
            "put the right server.key back beside the records, or set each PIN anew with `verifier shop pin`",
        )
    return _verified("$" + hashed, key.keyed("pin", _plain(pin)))


def pin_key_name(stored: str | None) -> str | None:
    """The name of the server key that a stored PIN was made with; None for no PIN, or one from before there was a key."""
    if stored is None or not stored.startswith(_KEYED):
        return None
    return stored[len(_KEYED) :].split("$", 1)[0]


def pin_needs_rehash(stored: str) -> bool:
    """Whether a PIN's hash is not keyed yet, or was made with less cost than today's."""
    if not stored.startswith(_KEYED):
        return True
    return needs_rehash("$" + stored[len(_KEYED) :].split("$", 1)[1])


@cache
def _nobody() -> str:
    """A hash that no password proves, so that an unknown login costs as much work as a known one."""
    return _HASHER.hash("\0 nobody")


def _verified(stored: str, secret: str) -> bool:
    try:
        return _HASHER.verify(stored, secret)
    except (VerificationError, InvalidHashError):
        return False
