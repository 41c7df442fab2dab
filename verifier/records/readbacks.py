"""An operator's read-back: what the control holds, kept byte for byte, with how it compares."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace

from verifier.records.act import Act, acting
from verifier.records.database import Row
from verifier.records.facts import MachineFacts, ReadbackFacts
from verifier.records.lookup import find_machine, program_named, revision_row
from verifier.records.shop import Shop
from verifier.records.telling import readback_facts
from verifier.source import ActRefused

#: So long after a read-back the same one is taken for its repetition: an answer that was lost, a page loaded again.
AGAIN_US = 3600 * 1_000_000


def record_readback(
    shop: Shop, operator: int, machine: str, revision: int, body: bytes, equal: bool, differences: Sequence[str]
) -> ReadbackFacts:
    """Record what a control sent back beside the revision it was compared with.

    The comparison by canonical words is the caller's; bytes that are the revision's own are equal whatever it says.
    One that differs marks drift at that machine, and its bytes may be submitted. The same bytes sent again by the same
    person within an hour, with nothing between, give the read-back that there is, `again` set. ActRefused: wrong_role,
    empty, readback_of_another (the revision was never put at that machine), bad_readback.
    """
    if not body:
        raise ActRefused("empty", "the control sent nothing back")
    if equal == bool(differences):
        raise ActRefused("bad_readback", "a read-back that differs says how, and one that is equal has nothing to say")
    with acting(shop, operator, ("operator", "lead")) as act:
        row = revision_row(act.database, revision)
        facts = find_machine(act.database, machine)
        if not act.database.value("SELECT 1 FROM release WHERE machine=? AND revision=?", facts.id, revision):
            raise ActRefused("readback_of_another", f"revision {row['n']} was never put at {facts.name}")
        sha = act.keep(body)
        if sha == row["sha"] and not equal:
            raise ActRefused("bad_readback", "these are the revision's own bytes, and cannot differ from it")
        values = {"revision": revision, "operator": operator, "sha": sha, "equal": int(equal)}
        same = _same(act, facts, row["program"], values)
        if same is not None:
            return replace(readback_facts(act.database, same["id"]), again=True)
        place = {"machine": facts.id, "program": row["program"]}
        number = act.insert("readback", **place, **values, differences=json.dumps(list(differences)), at_us=act.now)
        program, target = program_named(act.database, row["program_name"], machine)
        noted = {"n": row["n"], "sha": sha, "equal": equal, "differences": len(differences), "machine": facts.name}
        act.record("read back", f"{program['name']}@{target.name}", readback=number, **noted)
        return readback_facts(act.database, number)


def _same(act: Act, machine: MachineFacts, program: int, values: dict[str, object]) -> Row | None:
    """The newest read-back of the program there, where this one only repeats it; None where it says anything new.

    It says something new once a release came, ended or was written since, something else was read back, or the old one
    has confirmed.
    """
    newest = act.database.row(
        "SELECT b.*, EXISTS(SELECT 1 FROM confirmation c WHERE c.readback=b.id) AS used FROM readback b"
        " WHERE b.machine=? AND b.program=? ORDER BY b.id DESC LIMIT 1",
        machine.id,
        program,
    )
    if newest is None or newest["used"] or act.now - newest["at_us"] > AGAIN_US:
        return None
    if any(newest[name] != value for name, value in values.items()):
        return None
    since = act.database.value(
        "SELECT max(max(at_us), coalesce(max(ended_us),0), coalesce((SELECT max(finished_us) FROM job WHERE machine=?1"
        " AND program=?2 AND kind='write' AND state='done'),0)) FROM release WHERE machine=?1 AND program=?2",
        machine.id,
        program,
    )
    return newest if newest["at_us"] >= int(since or 0) else None


def readback(shop: Shop, number: int) -> ReadbackFacts:
    """Give a read-back by its number; ActRefused `unknown_readback`. Its bytes are stored under its digest."""
    with shop.database.read():
        return readback_facts(shop.database, number)


def readbacks_at(shop: Shop, program: str, machine: str) -> tuple[ReadbackFacts, ...]:
    """Every read-back of a program at one machine, oldest first; ActRefused `unknown_program`, `unknown_machine`."""
    database = shop.database
    with database.read():
        facts = find_machine(database, machine)
        row, _ = program_named(database, program, machine)
        found = database.rows("SELECT id FROM readback WHERE machine=? AND program=? ORDER BY id", facts.id, row["id"])
        return tuple(readback_facts(database, one["id"]) for one in found)
