"""What is to be written into machines' folders, and what came of it; the writing itself is not done here."""

from __future__ import annotations

from dataclasses import dataclass

from verifier.records.act import Act, acting
from verifier.records.database import Database, Row
from verifier.records.facts import JobFacts, MachineFacts
from verifier.records.lookup import machine_facts, subject_of
from verifier.records.shop import Shop
from verifier.source import ActRefused

_LONGEST_TROUBLE = 300


@dataclass(frozen=True, slots=True)
class FloorFile:
    """One file that a machine's folder should hold, and whose it is; `written_us`: when its digest was read back, None before."""

    file: str
    sha: str
    size: int
    program: str
    n: int
    written_us: int | None

    @property
    def written(self) -> bool:
        """Whether it lay there once as released."""
        return self.written_us is not None


def _job(database: Database, row: Row) -> JobFacts:
    machine = machine_facts(database.rows("SELECT * FROM machine WHERE id=?", row["machine"])[0])
    name = database.value("SELECT name FROM program WHERE id=?", row["program"])
    return JobFacts(row["id"], machine, str(name), row["kind"], row["file"], row["sha"], row["release"], row["trouble"])


def pending_jobs(shop: Shop) -> tuple[JobFacts, ...]:
    """Every job that waits to be done, oldest first; not those that wait for an operator's take-over."""
    database = shop.database
    with database.read():
        rows = database.rows("SELECT * FROM job WHERE state='pending' ORDER BY id")
        return tuple(_job(database, row) for row in rows)


def still_wanted(shop: Shop, job: int) -> bool:
    """Whether a job is still to be done: asked again at the last moment before a file appears or goes."""
    return bool(shop.database.value("SELECT 1 FROM job WHERE id=? AND state='pending'", job))


def finish_job(shop: Shop, job: int, sha: str | None) -> bool:
    """Record that a job's file was read back with digest `sha` (None: it is gone); False if the job was overtaken.

    ActRefused `wrong_digest` when that is not what the job was to bring about.
    """
    with acting(shop, None) as act:
        row = _open_job(act, job)
        if row is None:
            return False
        if sha != (row["sha"] if row["kind"] == "write" else None):
            raise ActRefused("wrong_digest", "the file read back is not the one that was to be written")
        act.update("job", job, state="done", trouble=None, finished_us=act.now)
        _note(act, row, "written to machine" if row["kind"] == "write" else "taken from machine")
        return True


def trouble_job(shop: Shop, job: int, trouble: str) -> None:
    """Record why a job could not be done; it stays pending. The same reason is not recorded twice in a row."""
    text = trouble[:_LONGEST_TROUBLE]
    if shop.database.value("SELECT trouble FROM job WHERE id=?", job) == text:
        return
    with acting(shop, None) as act:
        row = _open_job(act, job)
        if row is not None and row["trouble"] != text:
            act.update("job", job, trouble=text)
            _note(act, row, "not written", because=text)


def _open_job(act: Act, job: int) -> Row | None:
    return act.database.row(
        "SELECT j.*, p.name AS program_name, p.machine AS own_machine, p.folded_group FROM job j"
        " JOIN program p ON p.id=j.program WHERE j.id=? AND j.state='pending'",
        job,
    )


def _note(act: Act, row: Row, what: str, **more: str) -> None:
    name = str(act.database.value("SELECT name FROM machine WHERE id=?", row["machine"]))
    place = {"machine": row["own_machine"], "folded_group": row["folded_group"]}
    act.record(what, subject_of(act.database, place, row["program_name"]), machine=name, file=row["file"], **more)


def floor_files(shop: Shop, machine: MachineFacts) -> tuple[FloorFile, ...]:
    """What a machine's folder should hold, by file name: every standing release whose file was ordered.

    Where a new file waits for the operator's take-over, the file before it is the one that should be there.
    """
    database = shop.database
    with database.read():
        rows = database.rows(
            "SELECT j.*, length(b.bytes) AS size, p.name AS program_name, v.n FROM job j"
            " JOIN body b ON b.sha=j.sha JOIN program p ON p.id=j.program JOIN release r ON r.id=j.release"
            " JOIN revision v ON v.id=r.revision WHERE j.machine=? AND j.id=(SELECT max(k.id) FROM job k"
            " WHERE k.machine=j.machine AND k.program=j.program AND k.state IN ('pending','done')) AND j.kind='write'"
            " ORDER BY j.file",
            machine.id,
        )
        return tuple(FloorFile(r["file"], r["sha"], r["size"], r["program_name"], r["n"], _written_us(r)) for r in rows)


def _written_us(row: Row) -> int | None:
    return int(row["finished_us"]) if row["state"] == "done" else None


def floor_serial(shop: Shop, machine: MachineFacts) -> int:
    """A number that rises with everything ordered for a machine's folder; the manifest carries it."""
    return int(shop.database.value("SELECT coalesce(max(id),0) FROM job WHERE machine=?", machine.id))


def known_at(shop: Shop, machine: MachineFacts, program: str, sha: str) -> bool:
    """Whether bytes found in a folder may be overwritten: once released for that program there, or read back."""
    return bool(
        shop.database.value(
            "SELECT 1 FROM job j JOIN program p ON p.id=j.program WHERE j.machine=?1 AND p.name=?2 AND j.sha=?3"
            " AND j.kind='write' UNION SELECT 1 FROM readback b JOIN program p ON p.id=b.program"
            " WHERE b.machine=?1 AND p.name=?2 AND b.sha=?3 LIMIT 1",
            machine.id,
            program,
            sha,
        )
    )
