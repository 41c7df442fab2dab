"""PINs of people: argon2id hashes, checked again at every decision and confirmation.

A PIN is short, so the hash alone does not protect it from somebody who has the records: it shows that the person stands here, no more.
"""

from __future__ import annotations

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from verifier.source import ActRefused

SHORTEST = 6
_HASHER = PasswordHasher(time_cost=2, memory_cost=19456, parallelism=1)
"""The least cost that a public guide for password storage advises: 19 MiB, two passes."""


def hashed(secret: str) -> str:
    """The hash of a new PIN or password; ActRefused where it is too short."""
    if len(secret) < SHORTEST:
        raise ActRefused("short_secret", f"a PIN or password has at least {SHORTEST} characters")
    return _HASHER.hash(secret)


def proves(stored: str | None, secret: str) -> bool:
    """Whether a secret is the one whose hash is stored; nothing stored, nothing proven."""
    if stored is None:
        return False
    try:
        return _HASHER.verify(stored, secret)
    except (VerificationError, InvalidHashError):
        return False
