"""The tables of the library's sketches, as the fourth step of a shop's records; outside the ledger, since the bodies give them again."""

from __future__ import annotations

TABLES = (
    """CREATE TABLE likeness(
        key INTEGER NOT NULL, revision INTEGER NOT NULL REFERENCES revision, PRIMARY KEY(key, revision)) STRICT, WITHOUT ROWID""",
    "CREATE TABLE sketched(revision INTEGER PRIMARY KEY REFERENCES revision) STRICT",
)
