"""Brings a database file to today's shape, and refuses one whose tables or guards are not exactly those expected."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from verifier.records.database import Database, in_memory
from verifier.records.tables import APPLICATION_ID, STEPS
from verifier.source import StoreError

Steps = Sequence[Sequence[str]]

_PARTS = "SELECT type, name, sql FROM sqlite_schema WHERE name NOT LIKE 'sqlite_%' ORDER BY type, name"


@lru_cache(maxsize=8)
def _expected(steps: tuple[tuple[str, ...], ...]) -> tuple[tuple[str, str, str], ...]:
    """Work out, in memory, what a file that has been through these steps holds."""
    database = in_memory()
    try:
        for step in steps:
            for statement in step:
                database.run(statement)
        return _parts(database)
    finally:
        database.close()


def _parts(database: Database) -> tuple[tuple[str, str, str], ...]:
    return tuple((str(r["type"]), str(r["name"]), str(r["sql"])) for r in database.rows(_PARTS))


def version_of(database: Database) -> int:
    """How many steps a file has been through; 0 for an empty one. Raises StoreError for a file of another program."""
    version = int(database.value("PRAGMA user_version"))
    owner = int(database.value("PRAGMA application_id"))
    if owner != APPLICATION_ID and (owner or version or _parts(database)):
        raise StoreError("this database belongs to another program", "name the folder that holds the shop")
    return version


def migrate(database: Database, steps: Steps = STEPS) -> int:
    """Take every step that a file has not been through yet, all in one transaction; gives the number taken."""
    with database.write():
        done = version_of(database)
        if done > len(steps):
            raise StoreError(f"these records are of version {done}, newer than this program", "use the newer program")
        for step in steps[done:]:
            for statement in step:
                database.run(statement)
        database.run(f"PRAGMA application_id={APPLICATION_ID}")
        database.run(f"PRAGMA user_version={len(steps)}")
        faults = schema_faults(database, steps)
        if faults:
            raise StoreError("the records would not be as expected: " + "; ".join(faults))
    return len(steps) - done


def schema_faults(database: Database, steps: Steps = STEPS) -> tuple[str, ...]:
    """Say what differs between a file's tables, indexes and guards and those it must have; empty when nothing does."""
    try:
        got = {(kind, name): sql for kind, name, sql in _parts(database)}
    except StoreError as error:
        return (error.message,)
    faults = []
    for kind, name, sql in _expected(tuple(tuple(step) for step in steps)):
        found = got.pop((kind, name), None)
        if found is None:
            faults.append(f"the {kind} {name} is missing")
        elif found != sql:
            faults.append(f"the {kind} {name} is not the one this program made")
    faults += [f"the {kind} {name} does not belong here" for kind, name in sorted(got)]
    return tuple(faults)


def check_schema(database: Database, steps: Steps = STEPS) -> None:
    """Refuse a file of another version or with a guard missing or altered. Raises StoreError."""
    version = version_of(database)
    if version != len(steps):
        way = "older" if version < len(steps) else "newer"
        raise StoreError(
            f"these records are of version {version}, {way} than this program's {len(steps)}",
            "bring them up to date first" if way == "older" else "use the newer program",
        )
    faults = schema_faults(database, steps)
    if faults:
        raise StoreError(
            "the records' guards are not in order: " + "; ".join(faults),
            "somebody changed the file by other means; verify the ledger and restore a copy",
        )
