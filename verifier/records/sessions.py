"""Who is here now: sessions that end by idleness, by age, and at once when the person's password, roles or place in the shop change.

A session's name is 256 random bits that only the browser knows; its SHA-256 is kept. Sessions are no acts and stand
outside the ledger: nothing is ever decided by a session alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from hashlib import sha256

from verifier.records.database import Database, Row
from verifier.records.facts import PersonFacts
from verifier.records.people import person_facts
from verifier.records.shop import Shop

_SECOND = 1_000_000


@dataclass(frozen=True, slots=True)
class SessionLimits:
    """How long a session lives without a request, and at most, in seconds."""

    idle_s: int
    total_s: int


@dataclass(frozen=True, slots=True)
class SessionFacts:
    """A session that holds: whose it is, when it ends at the latest, and at which terminal it was opened, if at one."""

    id: int
    person: PersonFacts
    terminal: int | None
    created_us: int
    ends_us: int


def name_hash(name: str) -> str:
    """What is kept of a random name: its SHA-256."""
    return sha256(name.encode("utf-8", "surrogatepass")).hexdigest()


def stamp_of(database: Database, person: int) -> str:
    """What a session rests on: password, roles and whether the person is still here. Another stamp ends it."""
    row = database.row("SELECT password_hash, active FROM person WHERE id=?", person) or {}
    roles = database.rows("SELECT role FROM role WHERE person=? AND held=1 ORDER BY role", person)
    parts = [str(row.get("password_hash")), str(row.get("active")), *(str(role["role"]) for role in roles)]
    return sha256("\0".join(parts).encode("utf-8")).hexdigest()


def begin_session(
    shop: Shop,
    person: int,
    name: str,
    limits: SessionLimits,
    *,
    leaving: str | None = None,
    terminal: int | None = None,
) -> SessionFacts:
    """Keep a new session under the hash of `name`; the one that `leaving` names, and all that are over, go."""
    database, now = shop.database, shop.clock()
    with database.write():
        database.run("DELETE FROM session WHERE ends_us<=? OR seen_us<=?", now, now - limits.total_s * _SECOND)
        if leaving is not None:
            database.run("DELETE FROM session WHERE hash=?", name_hash(leaving))
        values = {"hash": name_hash(name), "person": person, "stamp": stamp_of(database, person), "terminal": terminal}
        times = {"created_us": now, "seen_us": now, "ends_us": now + limits.total_s * _SECOND}
        key = database.insert("session", {**values, **times})
        return SessionFacts(key, person_facts(database, person), terminal, now, times["ends_us"])


def find_session(shop: Shop, name: str, limits: SessionLimits) -> SessionFacts | None:
    """The session of that name if it still holds, noting that it was used; None where it is over, which ends it for good."""
    database, now = shop.database, shop.clock()
    with database.read():
        row = database.row("SELECT * FROM session WHERE hash=?", name_hash(name))
        if row is None:
            return None
        facts = person_facts(database, int(row["person"]))
        holds = facts.active and _holds(row, now, limits) and row["stamp"] == stamp_of(database, facts.id)
    if not holds:
        end_session(shop, name)
        return None
    if now - row["seen_us"] > limits.idle_s * _SECOND // 60:  # a write for each request would be waste
        with database.write():
            database.run("UPDATE session SET seen_us=max(seen_us, ?) WHERE id=?", now, row["id"])
    return SessionFacts(int(row["id"]), facts, row["terminal"], int(row["created_us"]), int(row["ends_us"]))


def _holds(row: Row, now: int, limits: SessionLimits) -> bool:
    """Whether neither limit is reached; a clock that was put back ends a session rather than prolonging it."""
    idle = now - row["seen_us"] < limits.idle_s * _SECOND
    return bool(idle and row["created_us"] - 60 * _SECOND <= now < row["ends_us"])


def end_session(shop: Shop, name: str) -> None:
    """End the session of that name, if there is one."""
    with shop.database.write():
        shop.database.run("DELETE FROM session WHERE hash=?", name_hash(name))


def end_sessions_of(shop: Shop, person: int) -> int:
    """End every session of a person; gives how many there were."""
    with shop.database.write():
        return shop.database.run("DELETE FROM session WHERE person=?", person)
