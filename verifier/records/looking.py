"""When the machines' folders were last looked at, and what was found: shared by all processes, so that one looks for all."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from verifier.records.shop import Shop


@dataclass(frozen=True, slots=True)
class FloorLook:
    """The last finished look at the floor: when, and what was found, as the watch told it."""

    at_us: int
    found: tuple[Mapping[str, str | bool], ...]


def claim_look(shop: Shop, every_s: float) -> bool:
    """Whether it is this caller's turn to look; a claim that nobody finished lapses after as long again."""
    database, now, gap = shop.database, shop.clock(), int(every_s * 1_000_000)
    with database.write():
        row = database.row("SELECT claimed_us FROM floor_look")
        if row is not None and 0 <= now - row["claimed_us"] < gap:
            return False
        database.run(
            "INSERT INTO floor_look(id, claimed_us, done_us, found) VALUES (1,?,0,'[]')"
            " ON CONFLICT(id) DO UPDATE SET claimed_us=excluded.claimed_us",
            now,
        )
        return True


def keep_look(shop: Shop, found: Sequence[Mapping[str, str | bool]]) -> None:
    """Keep what a look found."""
    text = json.dumps([dict(one) for one in found], ensure_ascii=False)
    with shop.database.write():
        shop.database.run("UPDATE floor_look SET done_us=?, found=?", shop.clock(), text)


def last_look(shop: Shop) -> FloorLook | None:
    """The last finished look, or None before the first."""
    row = shop.database.row("SELECT done_us, found FROM floor_look WHERE done_us>0")
    return None if row is None else FloorLook(int(row["done_us"]), tuple(json.loads(row["found"])))
