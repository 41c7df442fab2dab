"""Answers already given to programs that sent a key with their request, so that a request sent twice acts once.

A key is claimed before the act and holds its answer after it. A claim whose process ended in between lapses after a while; the act's own rules
then keep it from being done twice. Outside the ledger: losing these rows loses no act. Requests are kept as keyed digests only.
"""

from __future__ import annotations

from dataclasses import dataclass

from verifier.records.shop import Shop

_LAPSES_US = 120 * 1_000_000
_KEPT_US = 48 * 3600 * 1_000_000


@dataclass(frozen=True, slots=True)
class Claim:
    """What a key stands for: `kind` is `new` (carry out the act), `kept` (answer again), `running` or `other`.

    `other`: the key was used with another request. `at_us` names the claim for `keep_answer` and `drop_claim`.
    """

    kind: str
    at_us: int = 0
    status: int = 0
    content: bytes = b""


def claim_answer(shop: Shop, person: int, key: str, request: str) -> Claim:
    """Claim a key for a request (its digest), or tell what became of the one that claimed it before."""
    database, now = shop.database, shop.clock()
    with database.write():
        database.run("DELETE FROM answer WHERE at_us<?", now - _KEPT_US)
        row = database.row("SELECT * FROM answer WHERE person=? AND key=?", person, key)
        if row is not None and row["request"] != request:
            return Claim("other")
        if row is not None and row["status"] is not None:
            return Claim("kept", row["at_us"], int(row["status"]), bytes(row["content"]))
        if row is not None and 0 <= now - row["at_us"] < _LAPSES_US:
            return Claim("running")
        if row is not None:
            database.run("DELETE FROM answer WHERE id=?", row["id"])
        database.insert("answer", {"person": person, "key": key, "request": request, "at_us": now})
        return Claim("new", now)


def keep_answer(shop: Shop, person: int, key: str, claim: Claim, status: int, content: bytes) -> None:
    """Keep the answer of an act that was carried out; nothing where the claim has lapsed meanwhile."""
    with shop.database.write():
        shop.database.run(
            "UPDATE answer SET status=?, content=? WHERE person=? AND key=? AND at_us=? AND status IS NULL",
            status, content, person, key, claim.at_us,
        )  # fmt: skip


def drop_claim(shop: Shop, person: int, key: str, claim: Claim) -> None:
    """Give a key back after a refusal: nothing was done, so it may be tried again with it."""
    with shop.database.write():
        shop.database.run(
            "DELETE FROM answer WHERE person=? AND key=? AND at_us=? AND status IS NULL", person, key, claim.at_us
        )
