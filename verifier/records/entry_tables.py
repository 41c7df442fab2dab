"""The tables of sign-in, as the second step of a shop's records.

Two kinds stand here. What somebody ordered (`code`, `terminal`, `token`) is history like every other act: covered by
the ledger, guarded, never deleted. What only says who is here now (`session`, `attempt`, `floor_look`) comes and goes with every
request, carries no decision, and is outside the ledger; losing it means signing in again.

Secrets are never stored: sessions, terminals and tokens hold 256 random bits, of which the SHA-256 is kept; a one-time
code is short, so what is kept of it is keyed with a secret that lies outside this file.
"""

from __future__ import annotations

_HASH = "hash TEXT NOT NULL UNIQUE CHECK(length(hash)=64 AND hash NOT GLOB '*[^0-9a-f]*')"

TABLES = (
    f"""CREATE TABLE code(
        id INTEGER PRIMARY KEY, person INTEGER NOT NULL REFERENCES person, {_HASH},
        given_by INTEGER NOT NULL REFERENCES person, created_us INTEGER NOT NULL, ends_us INTEGER NOT NULL,
        used_us INTEGER) STRICT""",
    f"""CREATE TABLE terminal(
        id INTEGER PRIMARY KEY, name TEXT NOT NULL, machine INTEGER NOT NULL REFERENCES machine, {_HASH},
        created_us INTEGER NOT NULL, ended_us INTEGER) STRICT""",
    f"""CREATE TABLE token(
        id INTEGER PRIMARY KEY, person INTEGER NOT NULL REFERENCES person, name TEXT NOT NULL, {_HASH},
        scopes TEXT NOT NULL, created_us INTEGER NOT NULL, ends_us INTEGER NOT NULL, ended_us INTEGER) STRICT""",
    f"""CREATE TABLE session(
        id INTEGER PRIMARY KEY, {_HASH}, person INTEGER NOT NULL REFERENCES person, stamp TEXT NOT NULL,
        terminal INTEGER REFERENCES terminal, created_us INTEGER NOT NULL, seen_us INTEGER NOT NULL,
        ends_us INTEGER NOT NULL) STRICT""",
    """CREATE TABLE attempt(
        key TEXT PRIMARY KEY, tries INTEGER NOT NULL CHECK(tries>=0), since_us INTEGER NOT NULL,
        locked_us INTEGER NOT NULL) STRICT""",
    """CREATE TABLE floor_look(
        id INTEGER PRIMARY KEY CHECK(id=1), claimed_us INTEGER NOT NULL, done_us INTEGER NOT NULL,
        found TEXT NOT NULL) STRICT""",
    "CREATE INDEX code_person ON code(person)",
    "CREATE INDEX token_person ON token(person)",
    "CREATE INDEX session_person ON session(person)",
    "CREATE INDEX attempt_since ON attempt(since_us)",
)

#: The columns of each covered table that never change once written.
FIXED = {
    "code": ("person", "hash", "given_by", "created_us", "ends_us"),
    "terminal": ("name", "machine", "hash", "created_us"),
    "token": ("person", "name", "hash", "scopes", "created_us", "ends_us"),
}

#: What is over stays over: a used code, an ended terminal or token.
ONCE = {"code": "used_us", "terminal": "ended_us", "token": "ended_us"}
