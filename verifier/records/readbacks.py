"""An operator's read-back: what the control holds, kept byte for byte, with how it compares."""

from __future__ import annotations

import json
from collections.abc import Sequence

from verifier.records.act import acting
from verifier.records.facts import ReadbackFacts
from verifier.records.lookup import find_machine, program_named, revision_row
from verifier.records.shop import Shop
from verifier.records.telling import readback_facts
from verifier.source import ActRefused


def record_readback(
    shop: Shop, operator: int, machine: str, revision: int, body: bytes, equal: bool, differences: Sequence[str]
) -> ReadbackFacts:
    """Record what a control sent back beside the revision it was compared with.

    The comparison by canonical words is the caller's; bytes that are the revision's own are equal whatever it says.
    One that differs marks drift at that machine, and its bytes may be submitted. ActRefused: wrong_role, empty,
    readback_of_another (the revision was never put at that machine), bad_readback.
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
        values = {"machine": facts.id, "program": row["program"], "revision": revision, "operator": operator}
        number = act.insert(
            "readback",
            **values,
            sha=sha,
            equal=int(equal),
            differences=json.dumps(list(differences)),
            at_us=act.now,
        )
        program, target = program_named(act.database, row["program_name"], machine)
        noted = {"n": row["n"], "sha": sha, "equal": equal, "differences": len(differences), "machine": facts.name}
        act.record("read back", f"{program['name']}@{target.name}", **noted)
        return readback_facts(act.database, number)
