"""How often somebody may try a secret: counters that every process of the shop shares.

A try is counted before the secret is looked at, so that many at once cannot slip past; a right one gives its count
back. After so many wrong ones the key is locked for a while, and then starts afresh.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from verifier.records.shop import Shop
from verifier.source import ActRefused

_SECOND = 1_000_000


@dataclass(frozen=True, slots=True)
class Tries:
    """What is counted, how many wrong tries are allowed, and for how many seconds it is locked then."""

    key: str
    most: int
    lock_s: int


class Throttled(ActRefused):
    """Too many wrong tries; `retry_s` says when the next one is looked at."""

    def __init__(self, retry_s: int) -> None:
        minutes = max(1, -(-retry_s // 60))
        super().__init__(
            "throttled",
            f"too many wrong tries; the next one is looked at in {minutes} minute{'' if minutes == 1 else 's'}",
            "an administrator can give a one-time code",
        )
        self.retry_s = retry_s


def take_try(shop: Shop, counted: Sequence[Tries]) -> None:
    """Count a try under every key, or raise Throttled (and count nothing) where one of them is locked."""
    database, now = shop.database, shop.clock()
    with database.write():
        found = {t.key: database.row("SELECT * FROM attempt WHERE key=?", t.key) for t in counted}
        locked = max((row["locked_us"] for row in found.values() if row), default=0)
        if locked > now:
            raise Throttled(-(-(locked - now) // _SECOND))
        for t in counted:
            row = found[t.key]
            fresh = row is None or row["locked_us"] or now - row["since_us"] >= t.lock_s * _SECOND
            tries, since = (1, now) if fresh or row is None else (row["tries"] + 1, row["since_us"])
            until = now + t.lock_s * _SECOND if tries >= t.most else 0
            database.run(
                "INSERT INTO attempt(key, tries, since_us, locked_us) VALUES (?,?,?,?)"
                " ON CONFLICT(key) DO UPDATE SET tries=excluded.tries, since_us=excluded.since_us, locked_us=excluded.locked_us",
                t.key, tries, since, until,
            )  # fmt: skip
        longest = max(t.lock_s for t in counted) * _SECOND
        database.run("DELETE FROM attempt WHERE since_us<? AND locked_us<?", now - 4 * longest, now)


def give_back(shop: Shop, own: Tries, shared: Sequence[Tries] = ()) -> None:
    """The try was right: the person's own count starts afresh, and shared ones (an address, say) lose this try only.

    Otherwise somebody with one account of their own could try others' from the same place without end.
    """
    database = shop.database
    with database.write():
        database.run("DELETE FROM attempt WHERE key=?", own.key)
        for t in shared:
            database.run("UPDATE attempt SET tries=max(0, tries-1), locked_us=0 WHERE key=?", t.key)
