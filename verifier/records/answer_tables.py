"""The table of answers kept for requests with a key, as the third step of a shop's records; outside the ledger."""

from __future__ import annotations

TABLES = (
    """CREATE TABLE answer(
        id INTEGER PRIMARY KEY, person INTEGER NOT NULL REFERENCES person, key TEXT NOT NULL, request TEXT NOT NULL,
        at_us INTEGER NOT NULL, status INTEGER, content BLOB,
        CHECK((status IS NULL) = (content IS NULL)), UNIQUE(person, key)) STRICT""",
    "CREATE INDEX answer_at ON answer(at_us)",
)
