"""Making a shop: an empty folder becomes records with one administrator, who then adds people and machines."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from verifier.records.act import Act
from verifier.records.database import Database, connect
from verifier.records.names import check_text
from verifier.records.people import write_person
from verifier.records.schema import migrate, version_of
from verifier.records.shop import FILE, Clock, Shop, open_shop
from verifier.source import StoreError


def init_shop(
    folder: Path,
    name: str,
    administrator: tuple[str, str],
    *,
    clock: Clock,
    new_id: Callable[[], str],
) -> Shop:
    """Make a shop in `folder` (created if absent) and open it.

    `administrator` is (login, full name) of the first person; `new_id` gives the shop's own lasting id. Raises
    StoreError where a shop or another database lies already, and ActRefused for a name that cannot be.
    """
    check_text("shop name", name, 200)
    path = Path(folder).absolute() / FILE
    path.parent.mkdir(parents=True, exist_ok=True)
    database = connect(path, create=True)
    try:
        _fill(database, name, administrator, clock(), new_id())
    finally:
        database.close()
    return open_shop(folder, clock)


def _fill(database: Database, name: str, administrator: tuple[str, str], now: int, uid: str) -> None:
    if version_of(database) == 0:  # also true after an earlier attempt that broke off
        migrate(database)
    with database.write():
        if database.value("SELECT 1 FROM shop"):
            raise StoreError("there is a shop here already", "open it, or choose another folder")
        act = Act(database, now, 0, None)
        act.insert("shop", id=1, uid=uid, name=name, created_us=now)
        write_person(act, administrator[0], administrator[1], ("administrator",))
        act.record("shop made", name, uid=uid, administrator=administrator[0])
