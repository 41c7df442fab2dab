"""The file below the acts: modes, migrations, several processes and threads at once."""

from __future__ import annotations

import os
import signal
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from shops import HandClock, TestShop, make, submit

from verifier import records
from verifier.records import database as database_module
from verifier.records import schema
from verifier.records.act import acting
from verifier.records.database import Database, DriverError, connect, driver_version, journal_for, wal_safe
from verifier.records.database import sqlite3 as driver
from verifier.records.tables import STEPS
from verifier.source import ActRefused, StoreError


@pytest.mark.parametrize(
    ("version", "safe"),
    [
        ((3, 7, 0), False),
        ((3, 40, 1), False),
        ((3, 44, 5), False),
        ((3, 44, 6), True),
        ((3, 45, 3), False),
        ((3, 50, 6), False),
        ((3, 50, 7), True),
        ((3, 51, 2), False),
        ((3, 51, 3), True),
        ((3, 53, 0), True),
        ((4, 0, 0), True),
    ],
)
def test_wal_is_used_only_where_its_corruption_is_mended(version: tuple[int, int, int], safe: bool) -> None:
    """Versions: the release notes of SQLite 3.51.3 and of its maintenance lines."""
    assert wal_safe(version) is safe
    assert journal_for(version) == (("wal", "FULL") if safe else ("delete", "EXTRA"))


def test_an_opened_shop_runs_in_the_mode_of_its_sqlite_and_watches_references(t: TestShop) -> None:
    mode, synchronous = journal_for(driver_version())
    database = t.shop.database
    assert database.value("PRAGMA journal_mode") == mode
    assert database.value("PRAGMA synchronous") == {"FULL": 2, "EXTRA": 3}[synchronous]
    assert [database.value(f"PRAGMA {p}") for p in ("foreign_keys", "recursive_triggers", "trusted_schema")] == [
        1,
        1,
        0,
    ]


def test_an_unsafe_sqlite_keeps_the_records_out_of_wal(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from verifier.records import database as module

    monkeypatch.setattr(module, "driver_version", lambda: (3, 40, 1))
    made = make(tmp_path / "shop")
    submit(made, b"A")
    assert made.shop.database.value("PRAGMA journal_mode") == "delete"
    assert made.shop.database.value("PRAGMA synchronous") == 3
    made.shop.close_thread()
    assert records.verify_ledger(tmp_path / "shop").ok


def test_no_shop_another_database_and_no_database_are_refused(tmp_path: Path) -> None:
    clock = HandClock()
    with pytest.raises(StoreError, match="no shop records"):
        records.open_shop(tmp_path, clock)
    conn = driver.connect(str(tmp_path / "shop.db"))
    conn.execute("CREATE TABLE recipe(x)")
    conn.close()
    with pytest.raises(StoreError, match="another program"):
        records.open_shop(tmp_path, clock)
    with pytest.raises(StoreError, match="another program"):
        records.init_shop(tmp_path, "x", ("a", "A"), clock=clock, new_id=lambda: "u")
    other = tmp_path / "other"
    other.mkdir()
    (other / "shop.db").write_bytes(b"not a database at all, but long enough to look at" * 50)
    with pytest.raises(StoreError):
        records.open_shop(other, clock)


def test_a_shop_is_not_made_over_another(t: TestShop) -> None:
    with pytest.raises(StoreError, match="a shop here already"):
        records.init_shop(t.shop.folder, "x", ("a", "A"), clock=t.clock, new_id=lambda: "u")


def test_making_a_shop_that_broke_off_can_be_done_again(tmp_path: Path) -> None:
    with pytest.raises(ActRefused, match="cannot be the name"):
        records.init_shop(tmp_path, "x", ("Bad Login", "A"), clock=HandClock(), new_id=lambda: "u")
    made = records.init_shop(tmp_path, "x", ("good", "A"), clock=HandClock(), new_id=lambda: "u")
    assert [p.login for p in records.people(made)] == ["good"]
    made.close_thread()


def test_another_version_is_refused_until_it_is_brought_up_to_date(
    t: TestShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    submit(t, b"A")
    t.shop.close_thread()
    later = (*STEPS, ("CREATE TABLE deviation(id INTEGER PRIMARY KEY) STRICT",))
    monkeypatch.setattr(schema, "STEPS", later)
    monkeypatch.setattr(schema.check_schema, "__defaults__", (later,))
    monkeypatch.setattr(schema.migrate, "__defaults__", (later,))
    with pytest.raises(StoreError, match="older"):
        records.open_shop(t.shop.folder, t.clock)
    assert records.migrate_shop(t.shop.folder) == 1
    assert records.migrate_shop(t.shop.folder) == 0
    monkeypatch.undo()
    with pytest.raises(StoreError, match="newer"):
        records.open_shop(t.shop.folder, t.clock)
    with pytest.raises(StoreError, match="newer"):
        records.migrate_shop(t.shop.folder)


def test_a_migration_that_fails_leaves_the_file_as_it_was(tmp_path: Path) -> None:
    database = connect(tmp_path / "x.db", create=True)
    schema.migrate(database)
    broken = (*STEPS, ("CREATE TABLE fine(id INTEGER PRIMARY KEY) STRICT", "CREATE TABLE fine(id INTEGER)"))
    with pytest.raises(StoreError):
        schema.migrate(database, broken)
    assert schema.schema_faults(database) == () and schema.version_of(database) == len(STEPS)
    losing = (*STEPS, ("DROP TRIGGER ledger_fixed",))
    schema.migrate(database, losing)
    assert "the trigger ledger_fixed is missing" in schema.schema_faults(database)


def test_four_processes_migrate_one_new_file_at_once(tmp_path: Path) -> None:
    children = []
    for _ in range(4):
        child = os.fork()
        if child == 0:
            code = 1
            try:
                schema.migrate(connect(tmp_path / "x.db", create=True))
                code = 0
            finally:
                os._exit(code)
        children.append(child)
    assert [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children] == [0] * 4
    assert schema.schema_faults(connect(tmp_path / "x.db")) == ()


@pytest.mark.parametrize("version", [driver_version(), (3, 40, 1)], ids=["own mode", "mode without WAL"])
def test_concurrent_submissions_of_processes_and_threads_lose_nothing(
    t: TestShop, version: tuple[int, int, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    t.shop.close_thread()
    monkeypatch.setattr(database_module, "driver_version", lambda: version)
    children = []
    for who in range(3):
        child = os.fork()
        if child == 0:
            code = 1
            try:
                for n in range(15):
                    submit(t, b"%d-%d" % (who, n), program="O1000")
                    records.revisions(t.shop, "O1000", "L1")
                code = 0
            finally:
                os._exit(code)
        children.append(child)
    failures: list[BaseException] = []

    def work(who: int) -> None:
        try:
            for n in range(15):
                submit(t, b"t%d-%d" % (who, n), program="O1000")
                records.history(t.shop, "O1000", "L1")
        except BaseException as error:
            failures.append(error)
        finally:
            t.shop.close_thread()

    threads = [threading.Thread(target=work, args=(who,)) for who in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children] == [0] * 3
    assert failures == []
    found = records.revisions(t.shop, "O1000", "L1")
    assert [one.n for one in found] == list(range(1, 76)) and len({one.sha for one in found}) == 75
    assert records.verify_ledger(t.shop.folder).ok


def test_the_count_of_concurrent_submissions_notices_a_write_without_its_lock(
    t: TestShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same harness on a database whose write transaction is none: numbers are taken twice, and that shows."""

    @contextmanager
    def no_lock(self: Database) -> Iterator[None]:
        yield

    monkeypatch.setattr(Database, "write", no_lock)
    monkeypatch.setattr(Database, "writing", property(lambda self: True))
    codes = []
    for who in range(3):
        child = os.fork()
        if child == 0:
            code = 1
            try:
                for n in range(25):
                    submit(t, b"%d-%d" % (who, n), program="O1000")
                code = 0
            finally:
                os._exit(code)
        codes.append(child)
    # All of them are waited for: one that still writes would be in the way of the folder's removal.
    ended = [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in codes]
    assert any(ended)


def test_a_guard_that_fires_inside_an_act_is_a_store_error_and_nothing_is_written(t: TestShop) -> None:
    before = records.checkpoint(t.shop)
    with pytest.raises(StoreError, match="own guards") as caught, acting(t.shop, t.ann) as act:
        act.update("person", t.ann, login="root")
    assert not isinstance(caught.value, ActRefused)
    assert records.checkpoint(t.shop) == before


def test_an_act_waits_for_another_programs_lock_and_then_says_busy(t: TestShop) -> None:
    slow = records.open_shop(t.shop.folder, t.clock, deadline_s=0.2)
    other = driver.connect(str(t.shop.folder / "shop.db"), isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    started = time.monotonic()
    with pytest.raises(StoreError, match="busy") as caught:
        records.submit(slow, t.ann, "O1", "L1", b"A", "because")
    assert not isinstance(caught.value, ActRefused)
    assert time.monotonic() - started >= 0.2  # it waited as long as it was told to
    other.execute("ROLLBACK")
    other.close()
    records.submit(slow, t.ann, "O1", "L1", b"A", "because")
    slow.close_thread()


def test_an_act_that_breaks_off_leaves_nothing(t: TestShop) -> None:
    before = records.checkpoint(t.shop)
    with pytest.raises(RuntimeError), acting(t.shop, t.ann) as act:
        act.keep(b"half an act")
        raise RuntimeError("broken off")
    assert records.checkpoint(t.shop) == before
    assert records.verify_ledger(t.shop.folder).ok


def test_an_act_that_records_nothing_is_not_written(t: TestShop) -> None:
    with pytest.raises(AssertionError, match="recorded nothing"), acting(t.shop, t.ann) as act:
        act.keep(b"silent")
    assert records.verify_ledger(t.shop.folder).ok


def test_acts_acknowledged_before_a_kill_are_there_and_whole(t: TestShop, tmp_path: Path) -> None:
    """A child submits and tells each success through a pipe; it is killed at a moment of its own."""
    for round_ in range(6):
        read, write = os.pipe()
        child = os.fork()
        if child == 0:
            os.close(read)
            for n in range(10_000):
                revision = submit(t, b"%d:%d" % (round_, n))
                os.write(write, b"%d\n" % revision.n)
            os._exit(0)
        os.close(write)
        told = b""
        while told.count(b"\n") < 5 + round_:
            told += os.read(read, 4096)
        time.sleep(0.002 * round_)
        os.kill(child, signal.SIGKILL)
        while piece := os.read(read, 4096):
            told += piece
        os.waitpid(child, 0)
        os.close(read)
        stored = {one.n for one in records.revisions(t.shop, "O1000", "L1")}
        assert {int(n) for n in told.split()} <= stored
        assert len(stored) == max(stored)
    assert records.verify_ledger(t.shop.folder).ok


def test_a_forked_process_opens_its_own_connection(t: TestShop) -> None:
    mine = t.shop.database
    child = os.fork()
    if child == 0:
        os._exit(0 if t.shop.database is not mine else 1)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0
    assert t.shop.database is mine


def test_strict_tables_take_no_value_of_another_kind(t: TestShop) -> None:
    with pytest.raises(DriverError), t.shop.database.write():
        t.shop.database.run("UPDATE person SET active='yes'")
