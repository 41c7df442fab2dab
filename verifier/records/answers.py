"""Answers already given to programs that sent a key with their request, so that a request sent twice acts once.

A key is claimed before the act, marked in the very transaction of the act, and holds its answer after it. Where the process ended in between,
the mark tells that the act was done though its answer is lost; a claim without the mark lapses after a while, and the request may act. Outside
the ledger: losing these rows loses no act. Requests are kept as keyed digests only.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass

from verifier.records.database import Database
from verifier.records.shop import Shop

_LAPSES_US = 120 * 1_000_000
_KEPT_US = 48 * 3600 * 1_000_000
_ACTED, _LOST = 0, 1
"""In place of an answer's status: the act was committed and its answer is not there yet, or never will be."""


@dataclass(frozen=True, slots=True)
class Claim:
    """What a key stands for: `kind` is `new` (carry out the act), `kept` (answer again), `running`, `lost` or `other`.

    `other`: the key was used with another request; `lost`: the act was done, its answer never kept. `at_us` names the
    claim for `keep_answer` and `drop_claim`.
    """

    kind: str
    at_us: int = 0
    status: int = 0
    content: bytes = b""


_RUNNING: ContextVar[tuple[int, str, Claim] | None] = ContextVar("claim of this request", default=None)


def claim_answer(shop: Shop, person: int, key: str, request: str) -> Claim:
    """Claim a key for a request (its digest), or tell what became of the one that claimed it before."""
    database = shop.database
    with database.write():
        now = shop.clock()  # read once nobody else writes: a claim just made by another is not of the future then
        database.run("DELETE FROM answer WHERE at_us<?", now - _KEPT_US)
        row = database.row("SELECT * FROM answer WHERE person=? AND key=?", person, key)
        if row is not None and row["request"] != request:
            return Claim("other")
        if row is not None and row["status"] not in (None, _ACTED, _LOST):
            return Claim("kept", row["at_us"], int(row["status"]), bytes(row["content"]))
        near = row is not None and abs(now - row["at_us"]) < _LAPSES_US  # clocks of processes differ a little
        if row is not None and row["status"] != _LOST and near:
            return Claim("running")
        if row is not None and row["status"] is not None:
            return Claim("lost")
        if row is not None:
            database.run("DELETE FROM answer WHERE id=?", row["id"])
        database.insert("answer", {"person": person, "key": key, "request": request, "at_us": now})
        return Claim("new", now)


@contextmanager
def answering(person: int, key: str, claim: Claim) -> Iterator[None]:
    """What this person does inside, on this thread, is what the key was claimed for: it is marked together with the act."""
    token = _RUNNING.set((person, key, claim))
    try:
        yield
    finally:
        _RUNNING.reset(token)


@contextmanager
def aside() -> Iterator[None]:
    """What is done inside is not what a key was claimed for."""
    token = _RUNNING.set(None)
    try:
        yield
    finally:
        _RUNNING.reset(token)


def mark_acted(database: Database, person: int | None) -> None:
    """Mark the claim of this request inside the transaction of its act; nothing where there is none."""
    running = _RUNNING.get()
    if running is None or running[0] != person:
        return
    database.run(
        "UPDATE answer SET status=?, content=x'' WHERE person=? AND key=? AND at_us=? AND status IS NULL",
        _ACTED, person, running[1], running[2].at_us,
    )  # fmt: skip


def keep_answer(shop: Shop, person: int, key: str, claim: Claim, status: int, content: bytes) -> None:
    """Keep the answer of an act that was carried out; nothing where the claim has lapsed meanwhile."""
    with shop.database.write():
        shop.database.run(
            "UPDATE answer SET status=?, content=? WHERE person=? AND key=? AND at_us=? AND (status IS NULL OR status=?)",
            status, content, person, key, claim.at_us, _ACTED,
        )  # fmt: skip


def drop_claim(shop: Shop, person: int, key: str, claim: Claim) -> None:
    """Give a key back after a refusal, so that it may be tried again with it; one whose act was done stays used."""
    mine = (person, key, claim.at_us)
    with shop.database.write():
        shop.database.run("DELETE FROM answer WHERE person=? AND key=? AND at_us=? AND status IS NULL", *mine)
        shop.database.run(
            "UPDATE answer SET status=? WHERE person=? AND key=? AND at_us=? AND status=?", _LOST, *mine, _ACTED
        )
