"""Checks a shop's records offline, from the first entry to the last and every row and body against its digest.

Nothing stops at the first fault. What each part shows: the chain, an entry altered, lost or put in between; the row
digests, a table changed beside the ledger; the bodies, damaged bytes; a checkpoint kept elsewhere, a ledger that was
cut short or written anew from some entry on, which nothing inside the file can show.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from verifier.records import ledger
from verifier.records.database import Database, connect
from verifier.records.ledger import Checkpoint, LedgerFault
from verifier.records.schema import schema_faults, version_of
from verifier.records.shop import FILE
from verifier.records.tables import STEPS
from verifier.source import StoreError

#: Every table whose rows the ledger speaks for, with the column that names a row.
COVERED = {
    "shop": "id",
    "person": "id",
    "role": "id",
    "machine": "id",
    "policy": "id",
    "program": "id",
    "revision": "id",
    "review": "id",
    "report": "id",
    "report_proven": "id",
    "report_accepted": "id",
    "acceptance": "id",
    "acceptance_end": "id",
    "decision": "id",
    "release": "id",
    "recall": "id",
    "job": "id",
    "readback": "id",
    "confirmation": "id",
    "code": "id",
    "terminal": "id",
    "token": "id",
}

_BATCH = 2000


@dataclass(frozen=True, slots=True)
class LedgerReport:
    """How many entries and stored bodies were checked, where the ledger stands, and every fault found."""

    entries: int
    bodies: int
    head: Checkpoint
    faults: tuple[LedgerFault, ...]

    @property
    def ok(self) -> bool:
        """Whether everything is as it was written."""
        return not self.faults


def verify_ledger(folder: Path, against: Checkpoint | None = None) -> LedgerReport:
    """Check the records in a shop's folder; `against` is a checkpoint kept elsewhere.

    Raises StoreError only where there are no records that can be opened; every fault in them is a value.
    """
    return verify_file(Path(folder) / FILE, against)


def verify_file(file: Path, against: Checkpoint | None = None) -> LedgerReport:
    """Check one file of records, a copy say, as `verify_ledger` does."""
    database = connect(file, query_only=True)
    try:
        version_of(database)
        with database.read():
            return _verify(database, against)
    finally:
        database.close()


def _verify(database: Database, against: Checkpoint | None) -> LedgerReport:
    faults = [LedgerFault("schema", "file", message) for message in schema_faults(database)]
    if database.value("PRAGMA user_version") != len(STEPS):
        faults.append(LedgerFault("schema", "file", "the records are of another version than this program"))
    try:
        faults += _file_faults(database)
        written: dict[tuple[str, int | str], str] = {}
        count, last = _chain(database, faults, written, against)
        faults += _row_faults(database, written)
        bodies = _body_faults(database, faults, written)
        shop = str(database.value("SELECT uid FROM shop") or "")
    except StoreError as error:
        faults.append(LedgerFault("damaged", "file", error.message))
        return LedgerReport(0, 0, Checkpoint("", 0, ledger.ZERO.hex()), tuple(faults))
    if against is not None:
        faults += _checkpoint_faults(against, shop, count)
    return LedgerReport(count, bodies, Checkpoint(shop, count, last.hex()), tuple(faults))


def _file_faults(database: Database) -> Iterator[LedgerFault]:
    for row in database.rows("PRAGMA quick_check"):
        text = str(next(iter(row.values())))
        if text != "ok":
            yield LedgerFault("damaged", "file", text)
    for row in database.rows("PRAGMA foreign_key_check"):
        yield LedgerFault(
            "loose", f"{row['table']} {row['rowid']}", f"it refers to a row of {row['parent']} that is gone"
        )


def _chain(
    database: Database,
    faults: list[LedgerFault],
    written: dict[tuple[str, int | str], str],
    against: Checkpoint | None,
) -> tuple[int, bytes]:
    """Walk the ledger; gives the number of entries and the last hash, and collects the digest last written per row."""
    count, expected, prev, before = 0, 1, ledger.ZERO, 0
    for row in ledger.entries(database):
        found = ledger.chain_faults(row, expected, prev, before)
        faults += found
        count += 1
        expected, prev, before = int(row["seq"]) + 1, bytes(row["hash"]), max(before, int(row["at_us"]))
        if against is not None and row["seq"] == against.size and prev.hex() != against.head:
            message = "the ledger up to the checkpoint is not the one that was there then"
            faults.append(LedgerFault("rewritten", f"entry {row['seq']}", message))
        try:
            written.update({(table, key): digest for table, key, digest in json.loads(row["body"])["rows"]})
        except (ValueError, TypeError, KeyError, RecursionError):
            faults.append(LedgerFault("altered", f"entry {row['seq']}", "its list of rows cannot be read"))
    return count, prev


def _checkpoint_faults(against: Checkpoint, shop: str, count: int) -> Iterator[LedgerFault]:
    if against.shop != shop:
        yield LedgerFault("another", "file", "the checkpoint is of another shop")
    if count < against.size:
        message = f"the checkpoint saw {against.size} entries, there are {count}: an old copy, or cut short"
        yield LedgerFault("rolled back", "file", message)


def _row_faults(database: Database, written: dict[tuple[str, int | str], str]) -> Iterator[LedgerFault]:
    """Compare each table's rows with what the ledger last said of them; takes what it has seen out of `written`."""
    for table, key in COVERED.items():
        after = -(1 << 62)
        while True:
            rows = database.rows(f'SELECT * FROM "{table}" WHERE "{key}">? ORDER BY "{key}" LIMIT ?', after, _BATCH)
            for row in rows:
                digest = written.pop((table, row[key]), None)
                if digest is None:
                    yield LedgerFault("unrecorded", f"{table} {row[key]}", "no act wrote this row")
                elif digest != ledger.row_digest(table, row):
                    yield LedgerFault("changed", f"{table} {row[key]}", "it is not as the last act on it left it")
            if len(rows) < _BATCH:
                break
            after = int(rows[-1][key])
    for table, row_key in list(written):
        if table != "body":
            yield LedgerFault("gone", f"{table} {row_key}", "an act wrote this row, and it is not there")


def _body_faults(database: Database, faults: list[LedgerFault], written: dict[tuple[str, int | str], str]) -> int:
    """Hash every stored body, one at a time; gives their number."""
    shas = [str(row["sha"]) for row in database.rows("SELECT sha FROM body ORDER BY sha")]
    for sha in shas:
        content = bytes(database.value("SELECT bytes FROM body WHERE sha=?", sha))
        if sha256(content).hexdigest() != sha:
            faults.append(
                LedgerFault("damaged", f"content {sha[:12]}", "the stored bytes are not those of their digest")
            )
        if written.pop(("body", sha), None) is None:
            faults.append(LedgerFault("unrecorded", f"content {sha[:12]}", "no act stored these bytes"))
    for _, key in list(written):
        faults.append(
            LedgerFault("gone", f"content {str(key)[:12]}", "an act stored these bytes, and they are not there")
        )
    return len(shas)
