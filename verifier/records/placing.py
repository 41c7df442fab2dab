"""Putting a revision at a machine in the records: the release row, what it ends, and the job that writes the file."""

from __future__ import annotations

import json
from collections.abc import Sequence

from verifier.records.act import Act
from verifier.records.database import Row
from verifier.records.lookup import current_release, machine_facts
from verifier.records.names import file_name, number_of
from verifier.records.states import PROVE_OUT, RELEASED, RETIRED
from verifier.source import ActRefused

_ENDS = {"full": "replaced", "prove-out": "set aside", "return": "went back"}


def check_challenge(challenge: Sequence[tuple[str, str]]) -> str:
    """The words to be read from the control, as stored: none, or two that differ in place (`bad_challenge`)."""
    pairs = [[place, word] for place, word in challenge]
    if pairs and (len(pairs) != 2 or pairs[0][0] == pairs[1][0] or not all(p.strip() and w.strip() for p, w in pairs)):
        raise ActRefused("bad_challenge", "a challenge is two words at two places, or none")
    return json.dumps(pairs)


def place(
    act: Act,
    row: Row,
    machine: int,
    kind: str,
    reason: str,
    challenge: Sequence[tuple[str, str]],
    *,
    ends_us: int | None = None,
    origin: int | None = None,
    review: int | None = None,
) -> int:
    """Make a revision (a row of `revision_row`) the one that a machine should run; gives the release's id.

    `origin` is the release whose proven state is put back (None: this one is itself an origin).
    """
    facts = machine_facts(act.database.rows("SELECT * FROM machine WHERE id=?", machine)[0])
    _check_number(act, row, machine, facts.name)
    current = current_release(act.database, machine, row["program"])
    if current is not None:
        end_release(act, current, _ENDS[kind])
    number = int(act.database.value("SELECT coalesce(max(id),0)+1 FROM release"))
    values = {"id": number, "revision": row["id"], "review": review or row["review"], "machine": machine}
    values |= {"program": row["program"], "kind": kind, "origin": origin or number, "person": act.person}
    act.insert("release", **values, reason=reason, challenge=check_challenge(challenge), at_us=act.now, ends_us=ends_us)
    _job(act, number, row, machine, "write", file_name(row["program_name"], facts.extension), facts.takeover)
    return number


def order_file(act: Act, release: Row, row: Row) -> None:
    """Order a standing release's file to be written, again if need be; it is then not at the machine until read back."""
    machine = machine_facts(act.database.rows("SELECT * FROM machine WHERE id=?", release["machine"])[0])
    file = file_name(row["program_name"], machine.extension)
    _job(act, release["id"], row, machine.id, "write", file, machine.takeover)


def _job(act: Act, release: int, row: Row, machine: int, kind: str, file: str, wait: bool) -> None:
    """Order the file to be written or taken away; what was still to be done for this program there is overtaken."""
    open_jobs = act.database.rows(
        "SELECT id FROM job WHERE machine=? AND program=? AND state IN ('waiting','pending')", machine, row["program"]
    )
    for one in open_jobs:
        act.update("job", one["id"], state="overtaken", finished_us=act.now)
    values = {"release": release, "machine": machine, "program": row["program"], "kind": kind, "file": file}
    act.insert("job", **values, sha=row["sha"], state="waiting" if wait else "pending", created_us=act.now)


def end_release(act: Act, release: Row, because: str) -> None:
    """End a standing release, for one of the reasons that its table knows."""
    act.update("release", release["id"], ended_us=act.now, ended_because=because)


def take_away(act: Act, release: Row, row: Row) -> None:
    """Order a release's floor copy to be taken away."""
    machine = machine_facts(act.database.rows("SELECT * FROM machine WHERE id=?", release["machine"])[0])
    _job(act, release["id"], row, machine.id, "remove", file_name(row["program_name"], machine.extension), False)


def retire_replaced(act: Act, program: int, keep: int) -> None:
    """Retire the revisions of a program that were released and now stand at no machine."""
    rows = act.database.rows(
        "SELECT v.id FROM revision v WHERE v.program=? AND v.state=? AND v.id<>?"
        " AND NOT EXISTS(SELECT 1 FROM release r WHERE r.revision=v.id AND r.ended_us IS NULL)",
        program,
        RELEASED,
        keep,
    )
    for row in rows:
        act.update("revision", row["id"], state=RETIRED)


def _check_number(act: Act, row: Row, machine: int, name: str) -> None:
    """Refuse a program number that the machine holds under another program's name; a control would overwrite one.

    The number is the one in the program's text, else the one that its name is.
    """
    number = _number(act, row["review"], row["program_name"])
    if number is None:
        return
    others = act.database.rows(
        "SELECT r.review, p.name, v.sha FROM release r JOIN program p ON p.id=r.program JOIN revision v"
        " ON v.id=r.revision WHERE r.machine=? AND r.ended_us IS NULL AND r.program<>? ORDER BY r.id",
        machine,
        row["program"],
    )
    for other in others:
        if other["sha"] != row["sha"] and _number(act, other["review"], other["name"]) == number:
            raise ActRefused(
                "number_held",
                f"{name} already holds program number O{number} with other content, as {other['name']}",
                "give one of the two another number",
            )


def _number(act: Act, review: int, name: str) -> int | None:
    value = act.database.value(
        "SELECT program_number FROM report WHERE review=? AND program_number IS NOT NULL LIMIT 1", review
    )
    return number_of(name) if value is None else int(value)


def check_no_prove_out(act: Act, machine: int, program: int, revision: int) -> None:
    """Refuse to put something else where a prove-out of another revision is running."""
    current = current_release(act.database, machine, program)
    if current is None or current["kind"] != PROVE_OUT or current["revision"] == revision:
        return
    state = act.database.value("SELECT state FROM revision WHERE id=?", current["revision"])
    if state == PROVE_OUT:
        raise ActRefused("prove_out_running", "a prove-out is running there", "confirm or recall it first")
