"""One act: who, when, the rows it writes and the ledger entry that goes with them, in one transaction or not at all.

Everything that changes a table goes through `Act`, which notes each row; `record` then writes the entry with the rows'
digests. An act that wrote rows and recorded nothing is a mistake of this package and fails.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from hashlib import sha256
from typing import Any

from verifier.records import ledger
from verifier.records.answers import mark_acted
from verifier.records.database import Database, IntegrityError
from verifier.records.shop import Shop
from verifier.records.states import a_role
from verifier.source import ActRefused, StoreError

_KEYS = {"body": "sha"}


class Act:
    """The pen of one act; lives inside `acting` only."""

    def __init__(self, database: Database, at_us: int, behind_us: int, person: int | None) -> None:
        self.database = database
        self.now = at_us
        self.person = person
        self.full_name = ""
        self.roles: tuple[str, ...] = ()
        self.refusal: ActRefused | None = None
        self._behind_us = behind_us
        self._touched: dict[tuple[str, int | str], None] = {}

    def insert(self, table: str, **values: object) -> int:
        """Add one row; gives its id."""
        row = self.database.insert(table, values)
        self._touched[(table, row)] = None
        return row

    def update(self, table: str, row: int, **values: object) -> None:
        """Change one row by id."""
        settings = ", ".join(f'"{name}"=?' for name in values)
        if self.database.run(f'UPDATE "{table}" SET {settings} WHERE id=?', *values.values(), row) != 1:
            raise StoreError(f"the records hold no row {row} in {table}")
        self._touched[(table, row)] = None

    def keep(self, content: bytes) -> str:
        """Store bytes once under their SHA-256; gives it."""
        sha = sha256(content).hexdigest()
        if self.database.value("SELECT 1 FROM body WHERE sha=?", sha) is None:
            self.database.insert("body", {"sha": sha, "bytes": content})
            self._touched[("body", sha)] = None
        return sha

    def record(self, act: str, subject: str, **body: Any) -> None:
        """Write the ledger entry for the rows touched since the last one."""
        rows = []
        for table, key in self._touched:
            column = _KEYS.get(table, "id")
            row = self.database.row(f'SELECT * FROM "{table}" WHERE "{column}"=?', key)
            if row is None:
                raise AssertionError(f"row {key} of {table} vanished inside an act")
            rows.append([table, key, ledger.row_digest(table, row)])
        self._touched.clear()
        late: Mapping[str, Any] = {"clock_behind_us": self._behind_us} if self._behind_us else {}
        ledger.append(self.database, self.now, self.person, act, subject, {**body, **late, "rows": rows})

    def finish(self) -> None:
        """Fail if something was written and not recorded."""
        if self._touched:
            raise AssertionError(f"an act wrote rows and recorded nothing: {sorted(map(str, self._touched))}")


@contextmanager
def acting(shop: Shop, person: int | None, roles: tuple[str, ...] = ()) -> Iterator[Act]:
    """Carry out one act of a person with one of the roles; `person` is None for what the service does by itself.

    Roles are read inside the write transaction. An act that sets `refusal` is committed and then refused with it.
    """
    database = shop.database
    with _guarded(), database.write():
        wall, last = shop.clock(), ledger.last_time(database)
        act = Act(database, max(wall, last), max(0, last - wall), person)
        if person is not None:
            _admit(act, person, roles)
        yield act
        act.finish()
        if act.refusal is None:
            mark_acted(database, person)
    if act.refusal is not None:
        raise act.refusal


@contextmanager
def _guarded() -> Iterator[None]:
    """A guard of the tables refused what an act let through: nothing was written, and the act has a gap."""
    try:
        yield
    except IntegrityError as error:
        raise StoreError(f"the records' own guards refused this act: {error}") from error


def _admit(act: Act, person: int, roles: tuple[str, ...]) -> None:
    found = act.database.row("SELECT full_name, active FROM person WHERE id=?", person)
    if found is None or not found["active"]:
        raise ActRefused("unknown_person", "nobody of the shop is known by that number, or they have left")
    held = act.database.rows("SELECT role FROM role WHERE person=? AND held=1 ORDER BY role", person)
    act.full_name = str(found["full_name"])
    act.roles = tuple(str(row["role"]) for row in held)
    if roles and not set(roles) & set(act.roles):
        raise ActRefused("wrong_role", f"this is for {a_role(roles)}", "ask somebody who holds that role")
