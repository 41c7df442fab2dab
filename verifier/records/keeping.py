"""Copies of a shop's records: taken while others work, checked before they count, put back only into an empty folder."""

from __future__ import annotations

import os
from pathlib import Path

from verifier.records.database import connect
from verifier.records.ledger import Checkpoint
from verifier.records.schema import check_schema
from verifier.records.shop import FILE, Shop
from verifier.records.verifying import LedgerReport, verify_file
from verifier.source import StoreError


def backup_shop(shop: Shop, file: Path) -> Checkpoint:
    """Write a checked copy of the records to a new file; gives where its ledger stands, to be kept elsewhere.

    Floor copies are not in it. Raises StoreError where the file exists, cannot be written, or the copy is not in order.
    """
    if file.exists():
        raise StoreError(f"{file} exists already", "a copy never replaces another")
    unfinished = file.with_name(file.name + ".unfinished")
    try:
        unfinished.unlink(missing_ok=True)
        shop.database.copy_to(unfinished)
        report = verify_file(unfinished)
        if not report.ok:
            raise StoreError(f"the copy is not in order: {report.faults[0].message}", "verify the ledger")
        _sync(unfinished)
        os.replace(unfinished, file)
    except OSError as error:
        raise StoreError(f"{file} cannot be written: {error.strerror or error}") from error
    return report.head


def restore_shop(file: Path, folder: Path, against: Checkpoint | None = None) -> LedgerReport:
    """Put a copy back into a folder without records, after checking it, also against a checkpoint kept elsewhere.

    What was recorded after the copy was made is lost, and machines' folders may be ahead: the watch names them.
    """
    path = Path(folder) / FILE
    if path.exists():
        raise StoreError(f"there are records in {folder} already", "move them away first")
    report = verify_file(Path(file), against)
    if not report.ok:
        raise StoreError(f"the copy is not in order: {report.faults[0].message}", "take another copy")
    path.parent.mkdir(parents=True, exist_ok=True)
    source = connect(Path(file), query_only=True)
    try:
        check_schema(source)
        source.copy_to(path)
    finally:
        source.close()
    return report


def _sync(file: Path) -> None:
    descriptor = os.open(file, os.O_RDWR)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
