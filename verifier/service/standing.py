"""What stands at a machine, as its pages show it: releases, notices of recalls, drift, what is known to be loaded."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass

from verifier import records
from verifier.records import FloorLook, MachineFacts, ReadbackFacts, ReleaseFacts, RevisionFacts, Shop

_ACTS = ("recalled", "prove-out ended", "went back")
_NEWEST = 50


@dataclass(frozen=True, slots=True)
class Notice:
    """A recalled revision that a machine may still hold: nothing was confirmed there since."""

    revision: RevisionFacts
    at_us: int
    reason: str


def recall_notices(shop: Shop, machine: MachineFacts) -> tuple[Notice, ...]:
    """The newest recalls that reached a machine and were not followed by a confirmed release of the program there."""
    confirmed = {r.program for r in records.at_machine(shop, machine.name) if r.confirmed}
    recalled = records.in_state(shop, "recalled")[-_NEWEST:]
    here = [r for r in recalled if r.target in (machine.name, machine.group) and r.program not in confirmed]
    found = [_notice(shop, machine.name, revision) for revision in here]
    return tuple(sorted((n for n in found if n is not None), key=lambda n: -n.at_us))


def _notice(shop: Shop, machine: str, revision: RevisionFacts) -> Notice | None:
    for entry in reversed(records.history(shop, revision.program, revision.target)):
        noted = json.loads(entry.body)
        number = noted.get("from") if entry.act == "went back" else noted.get("n")
        reached = machine in noted.get("machines", ()) or noted.get("machine") == machine
        if entry.act in _ACTS and number == revision.n and reached:
            return Notice(revision, entry.at_us, noted.get("reason", "the days of its prove-out are over"))
    return None


def release_of(shop: Shop, machine: str, program: str) -> ReleaseFacts | None:
    """The standing release of a program at a machine, or None."""
    name = records.fold_program_name(program)
    found = [r for r in records.at_machine(shop, machine) if records.fold_program_name(r.program) == name]
    return found[-1] if found else None


def drifted_at(shop: Shop, machine: str) -> tuple[ReadbackFacts, ...]:
    """Read-backs of a machine that were not what it should hold, the newest of each program."""
    return tuple(back for back in records.drifted(shop) if back.machine == machine)


def found_at(look: FloorLook | None, machine: str) -> tuple[Mapping[str, str | bool], ...]:
    """What the last look found in a machine's folder."""
    return () if look is None else tuple(one for one in look.found if one["machine"] == machine)
