"""Figures of a shop for whoever watches over the service: counts and ages, no names."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from verifier.records.looking import last_look
from verifier.records.shop import Shop
from verifier.records.states import STATES


@dataclass(frozen=True, slots=True)
class Figures:
    """How many of what there is now. `oldest_pending_us` and `looked_us` are times, None where there is none."""

    revisions: Mapping[str, int]
    jobs_pending: int
    jobs_for_take_over: int
    oldest_pending_us: int | None
    to_confirm: int
    drift: Mapping[str, int]
    readbacks_differing: int
    looked_us: int | None
    ledger_entries: int
    records_bytes: int


def figures(shop: Shop) -> Figures:
    """The figures of one moment; every state of a revision is there, with 0 where there is none."""
    database, look = shop.database, last_look(shop)
    with database.read():
        counted = {
            r["state"]: r["n"] for r in database.rows("SELECT state, count(*) AS n FROM revision GROUP BY state")
        }
        jobs = {r["state"]: r for r in database.rows(
            "SELECT state, count(*) AS n, min(created_us) AS since FROM job WHERE state IN ('pending','waiting')"
            " GROUP BY state")}  # fmt: skip
        to_confirm = database.value(
            "SELECT count(*) FROM release r WHERE r.ended_us IS NULL AND EXISTS(SELECT 1 FROM job j WHERE j.release=r.id"
            " AND j.kind='write' AND j.state='done') AND NOT EXISTS(SELECT 1 FROM confirmation c WHERE c.release=r.id)"
        )
        differing = database.value(
            "SELECT count(*) FROM readback b WHERE b.equal=0 AND b.id=(SELECT max(id) FROM readback c"
            " WHERE c.machine=b.machine AND c.program=b.program)"
        )
        drift: dict[str, int] = {}
        for one in look.found if look is not None else ():
            drift[str(one["kind"])] = drift.get(str(one["kind"]), 0) + 1
        return Figures(
            {state: int(counted.get(state, 0)) for state in STATES},
            int(jobs["pending"]["n"]) if "pending" in jobs else 0,
            int(jobs["waiting"]["n"]) if "waiting" in jobs else 0,
            int(jobs["pending"]["since"]) if "pending" in jobs else None,
            int(to_confirm),
            drift,
            int(differing),
            look.at_us if look is not None else None,
            int(database.value("SELECT coalesce(max(seq),0) FROM ledger")),
            int(database.value("PRAGMA page_count")) * int(database.value("PRAGMA page_size")),
        )


def acts_after(shop: Shop, seq: int) -> tuple[int, Mapping[str, int]]:
    """The ledger's acts after an entry, counted by their name, and the number of the last entry counted."""
    database = shop.database
    with database.read():
        last = int(database.value("SELECT coalesce(max(seq),0) FROM ledger"))
        rows = database.rows("SELECT act, count(*) AS n FROM ledger WHERE seq>? AND seq<=? GROUP BY act", seq, last)
        return last, {str(row["act"]): int(row["n"]) for row in rows}
