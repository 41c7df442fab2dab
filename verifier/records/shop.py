"""A shop's folder opened: who tells the time, who makes ids, and one connection for each thread of each process."""

from __future__ import annotations

import os
import threading
from collections.abc import Callable
from pathlib import Path

from verifier.records.database import Database, connect
from verifier.records.schema import check_schema, migrate
from verifier.source import StoreError

#: Gives the time in microseconds since 1970, UTC.
Clock = Callable[[], int]

FILE = "shop.db"


class Shop:
    """A shop folder that has been opened and found in order. Share it between threads; every act takes it first."""

    def __init__(self, folder: Path, clock: Clock, deadline_s: float = 10.0) -> None:
        self.folder = folder
        self.clock = clock
        self._deadline_s = deadline_s
        self._local = threading.local()
        self._inherited: list[Database] = []

    @property
    def database(self) -> Database:
        """The connection of this thread; a process made by fork opens its own and never touches its parent's."""
        kept: tuple[int, Database] | None = getattr(self._local, "kept", None)
        if kept is not None and kept[0] != os.getpid():
            self._inherited.append(kept[1])  # kept, because closing it here would give up the parent's locks
            kept = None
        if kept is not None and kept[1].broken:
            self.close_thread()
            kept = None
        if kept is None:
            kept = (os.getpid(), connect(self.folder / FILE, deadline_s=self._deadline_s))
            self._local.kept = kept
        return kept[1]

    def machine_folder(self, entered: str) -> Path:
        """Where a machine's folder lies: as entered when absolute, else inside the shop's folder."""
        return self.folder / entered

    def close_thread(self) -> None:
        """Close this thread's connection, at the end of a request or a thread."""
        kept: tuple[int, Database] | None = getattr(self._local, "kept", None)
        if kept is not None and kept[0] == os.getpid():
            kept[1].close()
        self._local.kept = None

    def __enter__(self) -> Shop:
        return self

    def __exit__(self, *_: object) -> None:
        self.close_thread()


def open_shop(folder: Path, clock: Clock, deadline_s: float = 10.0) -> Shop:
    """Open the shop in `folder`, checking version and guards first. Raises StoreError."""
    shop = Shop(Path(folder).absolute(), clock, deadline_s)
    try:
        check_schema(shop.database)
    except StoreError:
        shop.close_thread()
        raise
    return shop


def migrate_shop(folder: Path) -> int:
    """Bring a shop's records to this program's version; gives the number of steps taken. Raises StoreError."""
    database = connect(Path(folder) / FILE)
    try:
        return migrate(database)
    finally:
        database.close()


def shop_exists(folder: Path) -> bool:
    """Whether a folder holds the records of a shop (in order or not)."""
    return (Path(folder) / FILE).is_file()


def check_shop(shop: Shop) -> None:
    """Check version and guards of an open shop again, for whoever watches over it. Raises StoreError."""
    check_schema(shop.database)
