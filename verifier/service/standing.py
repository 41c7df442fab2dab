"""What stands at a machine, as its pages show it: releases, notices of recalls, drift, what is known to be loaded."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass

from verifier import records
from verifier.desk import waiting_beside
from verifier.floor import READ_BACK
from verifier.records import FloorFile, FloorLook, MachineFacts, ReadbackFacts, ReleaseFacts, RevisionFacts, Shop
from verifier.source import read_source

_ACTS = ("recalled", "prove-out ended", "went back")
_NEWEST = 50
_PLACE = re.compile(r"line (\d+), word ([A-Z])")


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


@dataclass(frozen=True, slots=True)
class Amiss:
    """One thing at a machine that is not as released; `program` where it is known whose file it is."""

    machine: str
    file: str
    kind: str
    detail: str
    pending: bool
    program: str | None


def amiss(shop: Shop, look: FloorLook | None) -> tuple[Amiss, ...]:
    """What is not as released on the floor: what the last look found and nothing was written over since, then read-backs that differ."""
    found = [] if look is None else [one for one in look.found if one["kind"] != READ_BACK]
    files = _floor_files(shop, {str(one["machine"]) for one in found})
    told = [_found(one, files.get((str(one["machine"]), str(one["file"]))), look) for one in found]
    backs = [
        Amiss(back.machine, back.program, READ_BACK, (back.differences or ("it differs",))[0], False, back.program)
        for back in records.drifted(shop)
    ]
    return (*(one for one in told if one is not None), *backs)


def _floor_files(shop: Shop, machines: set[str]) -> dict[tuple[str, str], FloorFile]:
    return {
        (machine.name, one.file): one
        for machine in records.machines(shop)
        if machine.name in machines
        for one in records.floor_files(shop, machine)
    }


def _found(one: Mapping[str, str | bool], file: FloorFile | None, look: FloorLook | None) -> Amiss | None:
    """One entry of a look; None where the file was written, and its digest read back, after the look."""
    if file is not None and look is not None and (file.written_us or 0) > look.at_us:
        return None
    program = file.program if file else None
    return Amiss(
        str(one["machine"]), str(one["file"]), str(one["kind"]), str(one["detail"]), bool(one["pending"]), program
    )


@dataclass(frozen=True, slots=True)
class Differing:
    """A read-back that was not the release: of which revision, whether that one still stands, and where its edit was submitted.

    `waits`: other revisions that wait meanwhile; a release of one may take the edit away.
    """

    back: ReadbackFacts
    of: RevisionFacts
    present: bool
    submitted: RevisionFacts | None
    waits: tuple[RevisionFacts, ...]


def differing(shop: Shop, machine: str, program: str) -> Differing | None:
    """The newest read-back of a program at a machine, where it differs from what it was compared with; else None."""
    name = records.fold_program_name(program)
    for back in drifted_at(shop, machine):
        if records.fold_program_name(back.program) == name:
            return _differing(shop, back)
    return None


def _differing(shop: Shop, back: ReadbackFacts) -> Differing:
    of, release = records.revision(shop, back.revision), release_of(shop, back.machine, back.program)
    same = [r for r in records.revisions(shop, of.program, of.target) if r.sha == back.sha]
    present = release is not None and release.revision == back.revision
    return Differing(back, of, present, same[-1] if same else None, waiting_beside(shop, back))


@dataclass(frozen=True, slots=True)
class Asked:
    """One word to be read from the control: the block it stands in with every asked word hidden, and its letter."""

    place: str
    block: str
    letter: str


def asked(release: ReleaseFacts, body: bytes) -> tuple[Asked, ...]:
    """The words of a release that an operator reads from the control, each with its block so that it can be found there.

    The place is the desk's ("line 12, word X"); a block that cannot be shown without giving a word away is left out.
    """
    source, found = read_source(body), []
    for word in release.challenge:
        matched = _PLACE.fullmatch(word.place)
        number = int(matched[1]) if matched else 0
        text = _hidden(source.line_text(number), release) if 0 < number <= source.line_count else ""
        found.append(Asked(word.place, text, matched[2] if matched else ""))
    return tuple(found)


def _hidden(line: str, release: ReleaseFacts) -> str:
    """A block without the words that are asked for, but for their letters; empty where one of them could still be read in it."""
    text = line
    for word in release.challenge:
        text = re.sub(re.escape(word.word) + r"(?![\d.])", word.word[:1] + "…", text)
    shown = any(word.word in text for word in release.challenge)
    return "" if shown or "…" not in text else text.strip()


def drifted_at(shop: Shop, machine: str) -> tuple[ReadbackFacts, ...]:
    """Read-backs of a machine that were not what it should hold, the newest of each program."""
    return tuple(back for back in records.drifted(shop) if back.machine == machine)
