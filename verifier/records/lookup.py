"""Questions that the acts ask of the tables inside their transaction; each rule's one place."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass

from verifier.records.database import Database, Row
from verifier.records.facts import Called, Ground, MachineFacts, ReportFacts
from verifier.records.names import check_program_name, fold_program_name
from verifier.source import ActRefused

# A release that a later recall of its revision covers never counts again, neither as a base nor to go back to.
_NOT_RECALLED = "NOT EXISTS(SELECT 1 FROM recall c WHERE c.revision=r.revision AND c.last_release>=r.id)"


@dataclass(frozen=True, slots=True)
class Target:
    """What a program is for: one machine, or a group of equal machines by its folded name."""

    name: str
    machine: int | None
    folded_group: str | None


def machine_facts(row: Row) -> MachineFacts:
    """Give a machine's row as facts."""
    return MachineFacts(
        row["id"],
        row["name"],
        row["machine_group"],
        row["folder"],
        row["extension"],
        bool(row["takeover"]),
        row["profile_sha"],
    )


def find_target(database: Database, name: str) -> Target:
    """Find a machine, else a group, by name in any case; ActRefused `unknown_machine`."""
    row = database.row("SELECT id, name FROM machine WHERE folded=?", name.upper())
    if row is not None:
        return Target(row["name"], row["id"], None)
    group = database.value("SELECT machine_group FROM machine WHERE folded_group=? ORDER BY id LIMIT 1", name.upper())
    if group is not None:
        return Target(str(group), None, name.upper())
    raise ActRefused("unknown_machine", f"the shop has no machine or group {name!r}")


def find_machine(database: Database, name: str) -> MachineFacts:
    """Find one machine by name; ActRefused `unknown_machine`."""
    row = database.row("SELECT * FROM machine WHERE folded=?", name.upper())
    if row is None:
        raise ActRefused("unknown_machine", f"the shop has no machine {name!r}")
    return machine_facts(row)


def target_of(database: Database, program: Row) -> Target:
    """What a program's row is for."""
    if program["machine"] is not None:
        name = database.value("SELECT name FROM machine WHERE id=?", program["machine"])
        return Target(str(name), program["machine"], None)
    folded = program["folded_group"]
    name = database.value("SELECT machine_group FROM machine WHERE folded_group=? ORDER BY id LIMIT 1", folded)
    return Target(str(name or folded), None, folded)


def machines_of(database: Database, target: Target) -> tuple[MachineFacts, ...]:
    """The machines that a target stands for, by id."""
    if target.machine is not None:
        rows = database.rows("SELECT * FROM machine WHERE id=?", target.machine)
    else:
        rows = database.rows("SELECT * FROM machine WHERE folded_group=? ORDER BY id", target.folded_group)
    return tuple(machine_facts(row) for row in rows)


def find_program(database: Database, name: str, target: Target) -> Row | None:
    """Find the program of that name for that target."""
    return database.row(
        "SELECT * FROM program WHERE folded=? AND machine IS ? AND folded_group IS ?",
        fold_program_name(name),
        target.machine,
        target.folded_group,
    )


def program_named(database: Database, name: str, target_name: str) -> tuple[Row, Target]:
    """Find a program by the names that people use, also by a machine whose group it is for; `unknown_program`."""
    check_program_name(name)
    target = find_target(database, target_name)
    program = find_program(database, name, target)
    if program is None and target.machine is not None:
        program = program_on_machine(database, fold_program_name(name), target.machine)
        target = target_of(database, program) if program is not None else target
    if program is None:
        raise ActRefused("unknown_program", f"{target.name} has no program {name}")
    return program, target


def program_on_machine(database: Database, folded: str, machine: int) -> Row | None:
    """Find the program of that folded name that is for this machine, by itself or through its group."""
    return database.row(
        "SELECT p.* FROM program p JOIN machine m ON m.id=? WHERE p.folded=?"
        " AND (p.machine=m.id OR p.folded_group=m.folded_group)",
        machine,
        folded,
    )


def revision_row(database: Database, revision: int) -> Row:
    """Find a revision with its program's names, current review and its digest; ActRefused `unknown_revision`."""
    row = database.row(
        "SELECT r.*, p.name AS program_name, p.folded, p.machine, p.folded_group, v.digest AS report_digest, v.clear"
        " FROM revision r JOIN program p ON p.id=r.program LEFT JOIN review v ON v.id=r.review WHERE r.id=?",
        revision,
    )
    if row is None:
        raise ActRefused("unknown_revision", "there is no such revision")
    return row


def subject_of(database: Database, program: Row, name: str | None = None) -> str:
    """How the ledger names a program: its name, at its machine or group."""
    return f"{name or program['name']}@{target_of(database, program).name}"


def authors_of(database: Database, revision: int) -> tuple[int, ...]:
    """Everybody who ever handed this revision in, in order of time."""
    rows = database.rows(
        "SELECT author, min(id) AS first FROM review WHERE revision=? AND author IS NOT NULL"
        " GROUP BY author ORDER BY first",
        revision,
    )
    return tuple(int(row["author"]) for row in rows)


def base_at(database: Database, machine: int, program: int) -> Row | None:
    """The revision last released to that machine; one that was recalled, or let out for prove-out only, is no base."""
    return database.row(
        "SELECT v.id, v.sha, v.n FROM release r JOIN revision v ON v.id=r.revision WHERE r.machine=? AND r.program=?"
        f" AND r.kind<>'prove-out' AND {_NOT_RECALLED} ORDER BY r.id DESC LIMIT 1",
        machine,
        program,
    )


def proven_at(database: Database, machine: int, program: int, sha: str) -> Row | None:
    """The release last proven at that machine, as the content `sha` is compared with it.

    It is the newest that an operator confirmed there, or went back to, and that was not recalled or turned back since. A
    prove-out of the content itself is what the decision on it led to, and no ground to judge it by.
    """
    return database.row(
        "SELECT r.*, v.sha FROM release r JOIN revision v ON v.id=r.revision AND v.state<>'turned back'"
        " WHERE r.machine=? AND r.program=?"
        f" AND (r.kind='return' OR EXISTS(SELECT 1 FROM confirmation f WHERE f.release=r.id)) AND {_NOT_RECALLED}"
        " AND NOT (r.kind='prove-out' AND v.sha=?) ORDER BY r.id DESC LIMIT 1",
        machine,
        program,
        sha,
    )


def ground_at(database: Database, machine: int, program: int, sha: str) -> Ground:
    """What a revision has to be compared with for one machine."""
    base, proven = base_at(database, machine, program), proven_at(database, machine, program, sha)
    if base is None or proven is None or proven["sha"] == base["sha"]:
        return Ground(None if base is None else base["sha"])
    return Ground(base["sha"], proven["sha"])


def grounds(database: Database, program: int, machines: Sequence[MachineFacts], sha: str) -> tuple[Ground, ...]:
    """What a revision has to be compared with, each different ground of its machines once, in the order of reports."""
    return tuple(sorted({ground_at(database, m.id, program, sha) for m in machines}, key=Ground.order))


def check_grounds(
    database: Database, program: int, machines: Sequence[MachineFacts], sha: str, found: Sequence[Ground], hint: str
) -> None:
    """Refuse reports that are about anything else than what the machines hold now: `stale_base`, `stale_proven`."""
    now = grounds(database, program, machines, sha)
    if {one.base_sha for one in now} != {one.base_sha for one in found}:
        raise ActRefused("stale_base", "another revision has been released since this report was made", hint)
    if now != tuple(found):
        raise ActRefused(
            "stale_proven", "another revision has been confirmed at the machine since this report was made", hint
        )


def current_release(database: Database, machine: int, program: int) -> Row | None:
    """The release that stands at that machine now, of any kind."""
    return database.row(
        "SELECT * FROM release WHERE machine=? AND program=? AND ended_us IS NULL ORDER BY id DESC LIMIT 1",
        machine,
        program,
    )


def standing(database: Database, revision: int) -> list[Row]:
    """The releases of a revision that stand at any machine now."""
    return database.rows("SELECT * FROM release WHERE revision=? AND ended_us IS NULL ORDER BY id", revision)


def write_job(database: Database, release: int) -> Row | None:
    """The newest job that writes a release's file; what it says is where the file is."""
    return database.row("SELECT * FROM job WHERE release=? AND kind='write' ORDER BY id DESC LIMIT 1", release)


def was_released(database: Database, revision: int) -> bool:
    """Whether a revision was ever released in full, and not recalled since."""
    found = database.value(
        f"SELECT 1 FROM release r WHERE r.revision=? AND r.kind<>'prove-out' AND {_NOT_RECALLED} LIMIT 1", revision
    )
    return found is not None


def last_proven(database: Database, machine: int, program: int) -> Row | None:
    """The release to go back to: confirmed there before the present one came, not recalled or turned back since."""
    last = database.row(
        "SELECT * FROM release WHERE machine=? AND program=? ORDER BY id DESC LIMIT 1", machine, program
    )
    if last is None:
        return None
    return database.row(
        "SELECT r.* FROM release r JOIN revision v ON v.id=r.revision AND v.state<>'turned back'"
        " WHERE r.machine=? AND r.program=? AND r.origin<? AND r.revision<>?"
        f" AND EXISTS(SELECT 1 FROM confirmation f WHERE f.release=r.id) AND {_NOT_RECALLED}"
        " ORDER BY r.origin DESC, r.id DESC LIMIT 1",
        machine,
        program,
        last["origin"],
        last["revision"],
    )


def called_text(called: Sequence[Called]) -> str:
    """Called programs as they are stored: JSON pairs in a fixed order."""
    return json.dumps(sorted([c.name, c.sha] for c in called))


def accepted_text(numbers: Sequence[int]) -> str:
    """Numbers of acceptances as `report_rows` gives them."""
    return " ".join(map(str, numbers))


def rests_on_ended(database: Database, review: int | None) -> bool:
    """Whether an acceptance that one of a review's reports rests on has been withdrawn."""
    found = database.value(
        "SELECT 1 FROM report p JOIN report_accepted x ON x.report=p.id"
        " JOIN acceptance_end e ON e.acceptance=x.acceptance WHERE p.review=?",
        review,
    )
    return found is not None


def report_rows(database: Database, review: int | None) -> list[Row]:
    """The reports of one review with the proven revision of each and the acceptances it rests on, in their order."""
    return database.rows(
        "SELECT r.*, p.proven_sha, (SELECT coalesce(group_concat(n, ' '), '') FROM"
        " (SELECT acceptance AS n FROM report_accepted WHERE report=r.id ORDER BY n)) AS accepted"
        " FROM report r LEFT JOIN report_proven p ON p.report=r.id WHERE r.review=?"
        " ORDER BY coalesce(r.base_sha,''), coalesce(p.proven_sha,'')",
        review,
    )


def ground_of(row: Row) -> Ground:
    """What a stored report compares with."""
    return Ground(row["base_sha"], row["proven_sha"])


def report_facts(database: Database, row: Row) -> ReportFacts:
    """Give a stored report as it was handed in."""
    return ReportFacts(
        row["digest"],
        row["verdict"],
        bool(row["sign_off_required"]),
        tuple(json.loads(row["sign_off_reasons"])),
        bool(row["has_critical"]),
        row["base_sha"],
        row["machine_digest"],
        row["setup_digest"],
        row["policy_digest"],
        row["rules_digest"],
        row["tool_version"],
        row["check_code"],
        bytes(database.value("SELECT bytes FROM body WHERE sha=?", row["json_sha"])),
        tuple(Called(name, sha) for name, sha in json.loads(row["called"])),
        row["program_number"],
        row["proven_sha"],
        tuple(map(int, row["accepted"].split())),
    )
