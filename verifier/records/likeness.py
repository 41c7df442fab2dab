"""The sketches of the library's revisions, by which a like program is found; worked out from the bodies, outside the ledger."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from verifier.records.lookup import find_target, target_of
from verifier.records.names import fold_program_name
from verifier.records.shop import Shop
from verifier.source import ActRefused

_COMMON = 200
"""Of a key that more revisions have than this, only the newest ones count: it tells little."""
_NOT_FIT = ("turned back", "withdrawn", "recalled")
"""Nobody is led to compare with these."""


@dataclass(frozen=True, slots=True)
class LikeFacts:
    """A revision of another program that shares `shared` keys."""

    revision: int
    program: str
    target: str
    n: int
    sha: str
    shared: int


def not_sketched(shop: Shop, most: int) -> tuple[tuple[int, str], ...]:
    """Revisions without a sketch, oldest first: id and digest of the bytes. Sketches are written in this order."""
    found = shop.database.rows(
        "SELECT id, sha FROM revision WHERE id>(SELECT coalesce(max(revision),0) FROM sketched) ORDER BY id LIMIT ?",
        most,
    )
    return tuple((int(row["id"]), str(row["sha"])) for row in found)


def keep_sketches(shop: Shop, sketches: Iterable[tuple[int, Sequence[int]]]) -> None:
    """Keep the keys of revisions; those of one that has them already stay."""
    database = shop.database
    with database.write():
        for revision, keys in sketches:
            for key in keys:
                database.run("INSERT OR IGNORE INTO likeness(key, revision) VALUES(?,?)", key, revision)
            database.run("INSERT OR IGNORE INTO sketched(revision) VALUES(?)", revision)


def like(shop: Shop, keys: Sequence[int], program: str, target: str, most: int) -> tuple[LikeFacts, ...]:
    """Revisions of other programs that share keys, most shared first, then newest; at most `most`, the newest of a program with as many."""
    database = shop.database
    with database.read():
        votes: Counter[int] = Counter()
        for key in keys:
            rows = database.rows(
                "SELECT revision FROM likeness WHERE key=? ORDER BY revision DESC LIMIT ?", key, _COMMON
            )
            votes.update(int(row["revision"]) for row in rows)
        try:
            own: str | None = find_target(database, target).name.upper()
        except ActRefused:
            own = None
        found: dict[tuple[int, int], LikeFacts] = {}
        for revision, shared in sorted(votes.items(), key=lambda entry: (-entry[1], -entry[0])):
            row = database.row(
                "SELECT r.n, r.sha, r.state, p.* FROM revision r JOIN program p ON p.id=r.program WHERE r.id=?",
                revision,
            )
            if row is None or row["state"] in _NOT_FIT:
                continue
            name = target_of(database, row).name
            if row["folded"] == fold_program_name(program) and name.upper() == own:
                continue
            one = LikeFacts(revision, str(row["name"]), name, int(row["n"]), str(row["sha"]), shared)
            found.setdefault((int(row["id"]), shared), one)
            if len(found) >= most:
                break
        return tuple(found.values())
