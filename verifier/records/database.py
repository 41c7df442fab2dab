"""The one way to a shop's database file: one connection factory, one kind of write transaction.

Every write starts with BEGIN IMMEDIATE behind a gate file, because SQLite's own waiting starves writers and a
transaction that reads before it writes would otherwise fail at once. The driver is the one that sqlite-utils uses:
two copies of SQLite on one file in one process lose each other's locks.
"""

from __future__ import annotations

import random
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlite_utils import Database as Tables
from sqlite_utils.utils import sqlite3  # type: ignore[attr-defined]  # the driver that sqlite-utils chose

from verifier.records.locks import file_lock
from verifier.source import ActRefused, StoreError

Row = dict[str, Any]

#: Every error of the driver in use; its classes differ from those of the standard module when another is installed.
DriverError: type[Exception] = sqlite3.Error
IntegrityError: type[Exception] = sqlite3.IntegrityError

# The WAL-reset corruption is mended in 3.51.3 and in these two maintenance lines.
_WAL_MENDED = (3, 51, 3)
_WAL_BACKPORTS = {(3, 44): 6, (3, 50): 7}

_PRAGMAS = ("foreign_keys=ON", "recursive_triggers=ON", "trusted_schema=OFF", "cell_size_check=ON", "temp_store=MEMORY")


def wal_safe(version: tuple[int, int, int]) -> bool:
    """Whether this SQLite may run in WAL mode with several connections without risking the file."""
    return version >= _WAL_MENDED or version[2] >= _WAL_BACKPORTS.get(version[:2], 1 << 30)


def journal_for(version: tuple[int, int, int]) -> tuple[str, str]:
    """(journal mode, synchronous) that lose no acknowledged act in a power cut under this SQLite."""
    return ("wal", "FULL") if wal_safe(version) else ("delete", "EXTRA")


def driver_version() -> tuple[int, int, int]:
    """Version of the SQLite in use."""
    major, minor, patch = sqlite3.sqlite_version_info[:3]
    return int(major), int(minor), int(patch)


class Busy(StoreError):
    """Others hold the records for the moment; nothing was written, and the act may be tried again."""


class Full(StoreError):
    """The disk that holds the records is full; nothing was written."""


class Database:
    """One connection of one thread of one process. Rows come as dictionaries and always as whole lists."""

    def __init__(self, tables: Tables, path: Path | None, deadline_s: float) -> None:
        self._tables = tables
        self._conn = tables.conn
        self._path = path
        self._deadline_s = deadline_s
        #: Set once writing failed for a reason other than the rules: what the system kept is unknown, so open anew.
        self.broken = False

    def run(self, sql: str, *values: object) -> int:
        """Carry out one statement; gives the number of rows it touched."""
        return int(self._execute(sql, values).rowcount)

    def rows(self, sql: str, *values: object) -> list[Row]:
        """Carry out one query."""
        cursor = self._execute(sql, values)
        names = [column[0] for column in cursor.description]
        return [dict(zip(names, row, strict=True)) for row in self._all(cursor)]

    def row(self, sql: str, *values: object) -> Row | None:
        """Give the first row of a query, or None."""
        found = self.rows(sql, *values)
        return found[0] if found else None

    def value(self, sql: str, *values: object) -> Any:
        """Give the first value of the first row, or None."""
        found = self._all(self._execute(sql, values))
        return found[0][0] if found else None

    def insert(self, table: str, values: Mapping[str, object]) -> int:
        """Add one row; table and column names come from this package's code, never from outside."""
        names = ", ".join(f'"{name}"' for name in values)
        marks = ", ".join("?" for _ in values)
        done = self._execute(f'INSERT INTO "{table}" ({names}) VALUES ({marks})', tuple(values.values()))
        return int(done.lastrowid or 0)

    def _execute(self, sql: str, values: Sequence[object]) -> Any:
        """Carry out a statement; a guard's refusal stays the driver's IntegrityError, all else becomes a StoreError."""
        try:
            return self._conn.execute(sql, values)
        except IntegrityError:
            raise
        except (UnicodeEncodeError, OverflowError) as error:
            raise ActRefused("bad_value", "a text or a number was given that cannot be stored") from error
        except DriverError as error:
            raise self._trouble(error) from error

    def _all(self, cursor: Any) -> list[Any]:
        try:
            return list(cursor.fetchall())
        except DriverError as error:
            raise self._trouble(error) from error

    def _trouble(self, error: Exception) -> StoreError:
        """Say what a driver's error means, and give the connection up unless it was only waiting for another."""
        if _waiting(error):
            return Busy("the shop's records are busy", "try again in a moment")
        self.broken = True
        if "disk is full" in str(error):
            return Full(
                "the disk that holds the shop's records is full", "nothing was written; make room and try again"
            )
        return StoreError(f"the shop's records could not be used: {error}")

    @property
    def writing(self) -> bool:
        """Whether a transaction is open on this connection."""
        return bool(self._conn.in_transaction)

    @contextmanager
    def write(self) -> Iterator[None]:
        """One write transaction: all of it or nothing. Raises StoreError when the file stays busy too long."""
        started = time.monotonic()
        if self._path is None:
            with self._transaction(started):
                yield
            return
        with file_lock(self._path.with_name(self._path.name + ".gate")), self._transaction(started):
            yield

    @contextmanager
    def _transaction(self, started: float) -> Iterator[None]:
        self._begin(started)
        try:
            yield
            self._execute("COMMIT", ())
        except BaseException:
            self._undo()
            raise

    def _undo(self) -> None:
        """Roll back what is still open; where even that fails, closing the connection does it."""
        try:
            if self._conn.in_transaction:
                self._conn.execute("ROLLBACK")
        except DriverError:
            self.broken = True

    def _begin(self, started: float) -> None:
        tries = 0
        while True:
            try:
                self._conn.execute("BEGIN IMMEDIATE")
                return
            except DriverError as error:
                if not _waiting(error) or time.monotonic() - started > self._deadline_s:
                    raise self._trouble(error) from error
            tries += 1
            time.sleep(random.uniform(0.0, min(0.2, 0.005 * 2**tries)))

    @contextmanager
    def read(self) -> Iterator[None]:
        """One snapshot for several queries."""
        self._execute("BEGIN", ())
        try:
            yield
        finally:
            self._undo()

    def copy_to(self, path: Path) -> None:
        """Write a consistent copy of the whole database to a new file while others go on working."""
        try:
            other = sqlite3.connect(str(path), isolation_level=None)
            try:
                self._conn.backup(other)
            finally:
                other.close()
        except DriverError as error:
            raise StoreError(f"{path} cannot be written: {error}") from error

    def close(self) -> None:
        """Close the connection."""
        self._tables.close()


def _waiting(error: Exception) -> bool:
    """Whether an error only says that another connection holds the file for the moment."""
    return isinstance(error, sqlite3.OperationalError) and any(word in str(error) for word in ("locked", "busy"))


def connect(path: Path, *, create: bool = False, deadline_s: float = 10.0, query_only: bool = False) -> Database:
    """Open a database file with the settings that every act relies on. Raises StoreError."""
    if not create and not path.is_file():
        raise StoreError(f"no shop records at {path}", "make a shop first")
    mode, synchronous = journal_for(driver_version())
    try:
        database = _open(path, deadline_s)
        if database.value("PRAGMA journal_mode") != mode:
            # Each open connection stops the others from changing the mode, so one at a time tries, and alone.
            database.close()
            with file_lock(path.with_name(path.name + ".gate")):
                database = _open(path, deadline_s)
                _change_mode(database, mode, deadline_s)
        for pragma in (f"synchronous={synchronous}", *_PRAGMAS, f"query_only={int(query_only)}"):
            database.run("PRAGMA " + pragma)
        return database
    except (DriverError, OSError) as error:
        raise StoreError(f"{path} cannot be opened as shop records: {error}") from error


def _open(path: Path, deadline_s: float) -> Database:
    # Without WAL, a reader meets a writer that is just committing: both have to wait a little, not to fail.
    conn = sqlite3.connect(str(path), timeout=min(deadline_s, 5.0), isolation_level=None)
    return Database(Tables(conn, strict=True, execute_plugins=False), path, deadline_s)


def _change_mode(database: Database, mode: str, deadline_s: float) -> None:
    """Change the journal mode, waiting for connections that are just closing."""
    started, got = time.monotonic(), "another"
    while True:
        try:
            got = str(database.value(f"PRAGMA journal_mode={mode}"))
            if got == mode:
                return
        except StoreError:
            if database.broken:
                raise
        if time.monotonic() - started > deadline_s:
            database.close()
            raise StoreError(
                f"the records are in {got} journal mode, and this SQLite needs {mode}",
                "keep the shop on a local disk, and stop other programs that use it",
            )
        time.sleep(random.uniform(0.0, 0.05))


def in_memory() -> Database:
    """An empty database that lies in no file, for working out what a schema looks like."""
    conn = sqlite3.connect(":memory:", isolation_level=None)
    return Database(Tables(conn, strict=True, execute_plugins=False), None, 0.0)
