"""Answers for pages and commands: what stands where, who did what. Nothing here writes."""

from __future__ import annotations

from verifier.records.database import Database, Row
from verifier.records.facts import (
    Called,
    Ground,
    HistoryEntry,
    ProgramFacts,
    ReadbackFacts,
    ReleaseFacts,
    ReportFacts,
    RevisionFacts,
)
from verifier.records.ledger import Checkpoint, head
from verifier.records.lookup import (
    find_machine,
    find_program,
    find_target,
    ground_at,
    last_proven,
    machines_of,
    program_named,
    proven_at,
    report_facts,
    report_rows,
    revision_row,
    target_of,
)
from verifier.records.lookup import (
    grounds as grounds_at,
)
from verifier.records.shop import Shop
from verifier.records.telling import readback_facts, release_facts, revision_facts
from verifier.source import ActRefused


def revision(shop: Shop, number: int) -> RevisionFacts:
    """Give a revision by its id; ActRefused `unknown_revision`."""
    with shop.database.read():
        return revision_facts(shop.database, number)


def find_revision(shop: Shop, program: str, target: str, n: int) -> RevisionFacts:
    """Give revision n of a program; ActRefused `unknown_program`, `unknown_machine` or `unknown_revision`."""
    database = shop.database
    with database.read():
        row, _ = program_named(database, program, target)
        found = database.value("SELECT id FROM revision WHERE program=? AND n=?", row["id"], n)
        if found is None:
            raise ActRefused("unknown_revision", f"{program} has no revision {n}")
        return revision_facts(database, int(found))


def revisions(shop: Shop, program: str, target: str) -> tuple[RevisionFacts, ...]:
    """Every revision of a program, oldest first."""
    database = shop.database
    with database.read():
        row, _ = program_named(database, program, target)
        found = database.rows("SELECT id FROM revision WHERE program=? ORDER BY n", row["id"])
        return tuple(revision_facts(database, one["id"]) for one in found)


def programs(shop: Shop, after: int = 0, most: int = 500) -> tuple[ProgramFacts, ...]:
    """Programs with an id above `after`, by id, at most `most` of them."""
    database = shop.database
    with database.read():
        rows = database.rows("SELECT * FROM program WHERE id>? ORDER BY id LIMIT ?", after, max(0, most))
        return tuple(_program_facts(database, row) for row in rows)


def _program_facts(database: Database, row: Row) -> ProgramFacts:
    standing = database.rows(
        "SELECT m.name, v.n FROM release r JOIN machine m ON m.id=r.machine JOIN revision v ON v.id=r.revision"
        " WHERE r.program=? AND r.ended_us IS NULL ORDER BY m.id",
        row["id"],
    )
    count = int(database.value("SELECT count(*) FROM revision WHERE program=?", row["id"]))
    places = tuple((str(one["name"]), int(one["n"])) for one in standing)
    return ProgramFacts(row["id"], row["name"], target_of(database, row).name, count, places)


def in_state(shop: Shop, state: str) -> tuple[RevisionFacts, ...]:
    """Every revision in one state, oldest first: `held` is what waits for a lead."""
    database = shop.database
    with database.read():
        found = database.rows("SELECT id FROM revision WHERE state=? ORDER BY id", state)
        return tuple(revision_facts(database, one["id"]) for one in found)


def grounds(shop: Shop, program: str, target: str, sha: str) -> tuple[Ground, ...]:
    """What a submission of the content `sha` needs a report against: one for each pair of base and proven revision that its machines hold.

    One without a base for a program that was never released there.
    """
    database = shop.database
    with database.read():
        aim = find_target(database, target)
        row = find_program(database, program, aim)
        if row is None:
            return (Ground(None),)
        return grounds_at(database, row["id"], machines_of(database, aim), sha)


def grounds_by_machine(shop: Shop, program: str, target: str, sha: str) -> tuple[tuple[str, Ground], ...]:
    """What a revision with the content `sha` has to be compared with at each machine of its target, by the machine's name."""
    database = shop.database
    with database.read():
        row, aim = program_named(database, program, target)
        return tuple((m.name, ground_at(database, m.id, row["id"], sha)) for m in machines_of(database, aim))


def base_shas(shop: Shop, program: str, target: str) -> tuple[str | None, ...]:
    """The bases that the machines of a program hold, each once; `(None,)` for one that was never released there."""
    return tuple(dict.fromkeys(one.base_sha for one in grounds(shop, program, target, "")))


def called_when_proven(shop: Shop, program: str, target: str, sha: str, proven_sha: str) -> tuple[Called, ...]:
    """The called programs with which the content that `sha` is compared with as proven was signed off.

    Where several machines have proven it, those of the first.
    """
    database = shop.database
    with database.read():
        row, aim = program_named(database, program, target)
        for machine in machines_of(database, aim):
            proven = proven_at(database, machine.id, row["id"], sha)
            if proven is not None and proven["sha"] == proven_sha:
                found = report_rows(database, proven["review"])
                return tuple(dict.fromkeys(one for report in found for one in report_facts(database, report).called))
    return ()


def body(shop: Shop, sha: str) -> bytes:
    """Stored bytes by digest; ActRefused `unknown_content`."""
    value = shop.database.value("SELECT bytes FROM body WHERE sha=?", sha)
    if value is None:
        raise ActRefused("unknown_content", "nothing is stored under that digest")
    return bytes(value)


def reports(shop: Shop, number: int) -> tuple[ReportFacts, ...]:
    """The change reports that a revision stands on now, ordered by base."""
    database = shop.database
    with database.read():
        row = revision_row(database, number)
        return tuple(report_facts(database, one) for one in report_rows(database, row["review"]))


def setup_bytes(shop: Shop, number: int) -> bytes | None:
    """The setup sheet that was handed in with a revision's present review, or None."""
    database = shop.database
    with database.read():
        row = revision_row(database, number)
        value = database.value(
            "SELECT b.bytes FROM review v JOIN body b ON b.sha=v.setup_sha WHERE v.id=?", row["review"]
        )
        return None if value is None else bytes(value)


def at_machine(shop: Shop, machine: str) -> tuple[ReleaseFacts, ...]:
    """What a machine should hold now: each standing release, and whether its file is there and confirmed."""
    database = shop.database
    with database.read():
        facts = find_machine(database, machine)
        rows = database.rows("SELECT * FROM release WHERE machine=? AND ended_us IS NULL ORDER BY id", facts.id)
        return tuple(release_facts(database, row) for row in rows)


def can_go_back_to(shop: Shop, program: str, machine: str) -> RevisionFacts | None:
    """The revision that an operator may go back to at that machine, or None."""
    database = shop.database
    with database.read():
        row, _ = program_named(database, program, machine)
        found = last_proven(database, find_machine(database, machine).id, row["id"])
        return revision_facts(database, found["revision"]) if found is not None else None


def drifted(shop: Shop) -> tuple[ReadbackFacts, ...]:
    """The newest read-back of each program at each machine, where it was not what the machine should hold."""
    database = shop.database
    with database.read():
        rows = database.rows(
            "SELECT b.id FROM readback b WHERE b.equal=0 AND b.id=(SELECT max(id) FROM readback c"
            " WHERE c.machine=b.machine AND c.program=b.program) ORDER BY b.id"
        )
        return tuple(readback_facts(database, row["id"]) for row in rows)


def history(shop: Shop, program: str, target: str) -> tuple[HistoryEntry, ...]:
    """Every act on a program, oldest first, as the ledger has it."""
    database = shop.database
    with database.read():
        row, aim = program_named(database, program, target)
        return _history(database, "WHERE l.subject=?", f"{row['name']}@{aim.name}")


def whole_history(shop: Shop, after: int = 0, most: int = 500) -> tuple[HistoryEntry, ...]:
    """Entries of the whole ledger after a number, oldest first, at most `most` of them."""
    return _history(shop.database, "WHERE l.seq>?", after, most=max(0, most))


def _history(database: Database, where: str, value: object, most: int = -1) -> tuple[HistoryEntry, ...]:
    rows = database.rows(
        "SELECT l.seq, l.at_us, p.full_name, l.act, l.subject, l.body FROM ledger l"
        f" LEFT JOIN person p ON p.id=l.person {where} ORDER BY l.seq LIMIT ?",
        value,
        most,
    )
    return tuple(
        HistoryEntry(r["seq"], r["at_us"], r["full_name"] or "", r["act"], r["subject"], r["body"]) for r in rows
    )


def shop_id(shop: Shop) -> str:
    """The lasting id that the shop was given when it was made."""
    return str(shop.database.value("SELECT uid FROM shop"))


def agrees(shop: Shop, point: Checkpoint) -> bool:
    """Whether a checkpoint taken earlier is part of this shop's ledger: False for an old copy, or another history."""
    found = shop.database.value("SELECT hash FROM ledger WHERE seq=?", point.size)
    return point.shop == shop_id(shop) and found is not None and bytes(found).hex() == point.head


def checkpoint(shop: Shop) -> Checkpoint:
    """Where the ledger stands now, to be kept elsewhere and checked against later."""
    return head(shop.database, shop_id(shop))
