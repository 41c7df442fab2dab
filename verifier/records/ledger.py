"""The append-only record of every act: canonical bytes, a chain of hashes, and digests of the rows that an act wrote.

An entry's leaf is SHA-256(00 || RFC 8785 form of the entry); its hash is SHA-256(02 || hash before || leaf). A row's
digest is SHA-256(03 || RFC 8785 form of its table and columns). The leading bytes keep the three kinds apart.
The body of an entry lists the rows written with their digests, so that the chain also covers every other table.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

from verifier.records.database import Database, Row

ZERO = bytes(32)
_COLUMNS = "seq, at_us, person, act, subject, body, leaf, prev, hash"

#: Every act that the ledger may speak of.
ACTS = (
    "shop made",
    "person added",
    "person changed",
    "code given",
    "terminal added",
    "terminal ended",
    "token made",
    "token ended",
    "machine added",
    "machine changed",
    "policy set",
    "submitted",
    "reported",
    "approved",
    "let out for prove-out",
    "turned back",
    "released",
    "held again",
    "checked again",
    "recalled",
    "withdrawn",
    "hazard accepted",
    "acceptance withdrawn",
    "prove-out ended",
    "prove-out confirmed",
    "went back",
    "took over",
    "ordered again",
    "read back",
    "confirmed",
    "confirmation refused",
    "written to machine",
    "taken from machine",
    "overtaken",
    "not written",
)


@dataclass(frozen=True, slots=True)
class Checkpoint:
    """How many entries there were and the hash of the last: kept elsewhere, it shows a cut or rewritten ledger."""

    shop: str
    size: int
    head: str


@dataclass(frozen=True, slots=True)
class LedgerFault:
    """One thing that is not as it was written: a short code, where, and what for people."""

    code: str
    where: str
    message: str


_encode = json.JSONEncoder(sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False).encode


def canonical(value: Mapping[str, Any] | list[Any]) -> bytes:
    """RFC 8785 form of strings, integers up to 2**53, booleans, null, lists and objects with ASCII keys.

    Within these the encoder of the standard library writes the same bytes as the general one, many times faster.
    """
    return _encode(value).encode("utf-8")


def leaf_of(seq: int, at_us: int, person: int | None, act: str, subject: str, body: str) -> bytes:
    """Hash of one entry by itself; `body` is in canonical form already, so that another spelling of it shows as well."""
    before = f'{{"act":{_encode(act)},"at_us":{_encode(at_us)},"body":'
    after = f',"person":{_encode(person)},"seq":{_encode(seq)},"subject":{_encode(subject)},"v":1}}'
    return sha256(b"\x00" + (before + body + after).encode("utf-8")).digest()


def link(prev: bytes, leaf: bytes) -> bytes:
    """Hash of an entry together with all before it."""
    return sha256(b"\x02" + prev + leaf).digest()


def row_digest(table: str, row: Row) -> str:
    """Digest of one row; a body counts by the digest that it claims, which is checked against its bytes elsewhere."""
    plain = {name: value for name, value in row.items() if not isinstance(value, bytes)}
    return sha256(b"\x03" + canonical([table, plain])).hexdigest()


def last_time(database: Database) -> int:
    """Time of the newest entry in microseconds, or 0."""
    return int(database.value("SELECT max(at_us) FROM ledger") or 0)


def append(
    database: Database, at_us: int, person: int | None, act: str, subject: str, body: Mapping[str, Any]
) -> tuple[int, str]:
    """Add the next entry inside the caller's write transaction; gives its number and hash."""
    if not database.writing or act not in ACTS:
        raise AssertionError(f"ledger entry {act!r} outside an act")
    last = database.row("SELECT seq, hash FROM ledger ORDER BY seq DESC LIMIT 1")
    seq, prev = (int(last["seq"]) + 1, bytes(last["hash"])) if last else (1, ZERO)
    text = canonical(body).decode("utf-8")
    leaf = leaf_of(seq, at_us, person, act, subject, text)
    digest = link(prev, leaf)
    values = (seq, at_us, person, act, subject, text, leaf, prev, digest)
    names = [name.strip() for name in _COLUMNS.split(",")]
    database.insert("ledger", dict(zip(names, values, strict=True)))
    return seq, digest.hex()


def entries(database: Database, batch: int = 5000) -> Iterator[Row]:
    """Every entry in order, read in batches so that no query stays open."""
    after = -(1 << 62)
    while True:
        found = database.rows(f"SELECT {_COLUMNS} FROM ledger WHERE seq>? ORDER BY seq LIMIT ?", after, batch)
        yield from found
        if len(found) < batch:
            return
        after = int(found[-1]["seq"])


def head(database: Database, shop: str) -> Checkpoint:
    """Where the ledger stands now."""
    last = database.row("SELECT seq, hash FROM ledger ORDER BY seq DESC LIMIT 1")
    return Checkpoint(shop, int(last["seq"]), bytes(last["hash"]).hex()) if last else Checkpoint(shop, 0, ZERO.hex())


def chain_faults(row: Row, seq: int, prev: bytes, before_us: int) -> list[LedgerFault]:
    """Check one entry against its number, the hash before it and the time before it."""
    where = f"entry {row['seq']}"
    faults = []
    if row["seq"] != seq:
        faults.append(LedgerFault("gap", where, f"entry {seq} should stand here"))
    try:
        values = (row["seq"], row["at_us"], row["person"], row["act"], row["subject"], row["body"])
        leaf = leaf_of(*values)
    except (ValueError, TypeError, RecursionError):
        return [*faults, LedgerFault("altered", where, "its words cannot be read")]
    if leaf != row["leaf"]:
        faults.append(LedgerFault("altered", where, "its words are not those that were written"))
    if row["prev"] != prev or link(bytes(row["prev"]), bytes(row["leaf"])) != row["hash"]:
        faults.append(LedgerFault("chain", where, "it does not follow from the entry before it"))
    if row["at_us"] < before_us:
        faults.append(LedgerFault("time", where, "its time is before that of the entry before it"))
    if row["act"] not in ACTS:
        faults.append(LedgerFault("act", where, f"{row['act']!r} is not an act"))
    return faults


def checkpoint_text(point: Checkpoint) -> str:
    """A checkpoint as one line of JSON, to be kept on another computer or on paper."""
    kept = {"schema": "ledger-checkpoint/1", "shop": point.shop, "size": point.size, "head": point.head}
    return canonical(kept).decode("ascii")
