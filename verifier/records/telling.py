"""Rows of the tables given as the facts that leave this folder."""

from __future__ import annotations

import json

from verifier.records.database import Database, Row
from verifier.records.facts import ChallengeWord, ConfirmationFacts, ReadbackFacts, ReleaseFacts, RevisionFacts
from verifier.records.lookup import authors_of, report_rows, revision_row, target_of, write_job
from verifier.source import ActRefused


def revision_facts(database: Database, revision: int) -> RevisionFacts:
    """Give a revision as facts, inside or outside an act."""
    row = revision_row(database, revision)
    reports = report_rows(database, row["review"])
    names = [
        str(database.value("SELECT login FROM person WHERE id=?", author)) for author in authors_of(database, revision)
    ]
    reason = database.value(
        "SELECT reason FROM review WHERE revision=? AND author IS NOT NULL ORDER BY id DESC LIMIT 1", revision
    )
    return RevisionFacts(
        row["id"],
        row["program_name"],
        target_of(database, row).name,
        row["n"],
        row["sha"],
        row["state"],
        tuple(json.loads(row["held_because"])),
        tuple(names),
        str(reason or ""),
        str(row["report_digest"] or ""),
        tuple(dict.fromkeys(report["base_sha"] for report in reports)),
        any(report["has_critical"] for report in reports),
        str(reports[0]["check_code"]) if reports else "",
        row["created_us"],
    )


def release_facts(database: Database, row: Row) -> ReleaseFacts:
    """Give a release row as facts, with where its floor copy is and whether an operator confirmed it."""
    about = revision_row(database, row["revision"])
    job = write_job(database, row["id"])
    code = database.value("SELECT check_code FROM report WHERE review=? LIMIT 1", row["review"])
    strength = database.value(
        "SELECT strength FROM confirmation WHERE release=? ORDER BY strength='strong' DESC LIMIT 1", row["id"]
    )
    return ReleaseFacts(
        row["id"],
        row["revision"],
        about["program_name"],
        about["n"],
        about["sha"],
        str(database.value("SELECT name FROM machine WHERE id=?", row["machine"])),
        row["kind"],
        row["at_us"],
        row["ends_us"],
        job is not None and job["state"] == "done",
        job["trouble"] if job is not None else None,
        str(code or ""),
        tuple(ChallengeWord(place, word) for place, word in json.loads(row["challenge"])),
        strength,
    )


def readback_facts(database: Database, number: int) -> ReadbackFacts:
    """Give a read-back by its id; ActRefused `unknown_readback`."""
    row = database.row(
        "SELECT b.*, m.name AS machine_name, p.name AS program_name, v.n, o.full_name,"
        " EXISTS(SELECT 1 FROM confirmation c WHERE c.readback=b.id) AS used FROM readback b"
        " JOIN machine m ON m.id=b.machine JOIN program p ON p.id=b.program JOIN revision v ON v.id=b.revision"
        " JOIN person o ON o.id=b.operator WHERE b.id=?",
        number,
    )
    if row is None:
        raise ActRefused("unknown_readback", "there is no such read-back")
    return ReadbackFacts(
        row["id"],
        row["machine_name"],
        row["program_name"],
        row["revision"],
        row["n"],
        row["sha"],
        bool(row["equal"]),
        tuple(json.loads(row["differences"])),
        row["full_name"],
        bool(row["used"]),
        row["at_us"],
    )


def confirmation_facts(database: Database, number: int) -> ConfirmationFacts:
    """Give a confirmation by its id."""
    row = database.rows(
        "SELECT c.*, m.name AS machine_name FROM confirmation c JOIN machine m ON m.id=c.machine WHERE c.id=?", number
    )[0]
    return ConfirmationFacts(
        row["id"],
        row["release"],
        row["revision"],
        row["machine_name"],
        row["full_name"],
        row["what"],
        row["how"],
        row["strength"],
        row["held_before"],
        row["at_us"],
    )
