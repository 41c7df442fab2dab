"""Copies of the records, and what a full disk or a failing one does."""

from __future__ import annotations

from pathlib import Path

import pytest
from shops import TestShop, at_machine, submit

from verifier import records
from verifier.records.database import sqlite3 as driver
from verifier.source import StoreError


def test_a_copy_put_back_is_the_same_shop(t: TestShop, tmp_path: Path) -> None:
    at_machine(t, b"A")
    point = records.backup_shop(t.shop, tmp_path / "copy.db")
    assert point == records.checkpoint(t.shop)
    assert [path.name for path in tmp_path.iterdir() if "copy" in path.name] == ["copy.db"]
    report = records.restore_shop(tmp_path / "copy.db", tmp_path / "again", point)
    assert report.ok and report.head == point
    with records.open_shop(tmp_path / "again", t.clock) as again:
        assert [r.program for r in records.at_machine(again, "L1")] == ["O1000"]
        assert records.body(again, records.find_revision(again, "O1000", "L1", 1).sha) == b"A"
    assert records.verify_ledger(tmp_path / "again", point).ok


def test_a_copy_that_is_older_than_the_checkpoint_is_not_put_back(t: TestShop, tmp_path: Path) -> None:
    records.backup_shop(t.shop, tmp_path / "copy.db")
    submit(t, b"A")
    with pytest.raises(StoreError, match="an old copy"):
        records.restore_shop(tmp_path / "copy.db", tmp_path / "again", records.checkpoint(t.shop))
    assert not (tmp_path / "again").exists()


def test_a_damaged_copy_is_not_put_back(t: TestShop, tmp_path: Path) -> None:
    at_machine(t, b"A")
    records.backup_shop(t.shop, tmp_path / "copy.db")
    conn = driver.connect(str(tmp_path / "copy.db"), isolation_level=None)
    conn.execute("DROP TRIGGER decision_fixed")
    conn.execute("UPDATE decision SET reason='x'")
    conn.close()
    with pytest.raises(StoreError, match="not in order"):
        records.restore_shop(tmp_path / "copy.db", tmp_path / "again")


def test_copies_and_shops_are_never_written_over(t: TestShop, tmp_path: Path) -> None:
    records.backup_shop(t.shop, tmp_path / "copy.db")
    with pytest.raises(StoreError, match="exists already"):
        records.backup_shop(t.shop, tmp_path / "copy.db")
    with pytest.raises(StoreError, match="records in"):
        records.restore_shop(tmp_path / "copy.db", t.shop.folder)
    with pytest.raises(StoreError):
        records.backup_shop(t.shop, tmp_path / "nowhere" / "copy.db")


def test_a_full_disk_stores_nothing_of_an_act_and_passes(t: TestShop) -> None:
    before = records.checkpoint(t.shop)
    pages = t.shop.database.value("PRAGMA page_count")
    t.shop.database.value(f"PRAGMA max_page_count={pages + 1}")
    with pytest.raises(StoreError, match="full"):
        submit(t, b"A" * 200_000)
    # The connection that failed is given up; the next act opens a new one, without the limit.
    assert records.checkpoint(t.shop) == before
    assert submit(t, b"A" * 200_000).n == 1
    assert records.verify_ledger(t.shop.folder).ok


def test_after_a_failed_write_the_thread_gets_a_new_connection(t: TestShop) -> None:
    old = t.shop.database
    with pytest.raises(StoreError, match="could not be used"), old.write():
        old.run("INSERT INTO nothing_of_the_kind VALUES(1)")
    assert old.broken and t.shop.database is not old
    submit(t, b"A")
