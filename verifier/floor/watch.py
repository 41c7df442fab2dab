"""Compares machines' folders with the releases and names each thing that is not as it should be; changes nothing."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from verifier import records
from verifier.floor.folder import TEMPORARY, FolderTrouble, beside, digest_of, names_in, read_file
from verifier.floor.manifest import MANIFEST, ahead_of
from verifier.records import FloorFile, MachineFacts, Shop

MISSING = "missing"
EDITED = "edited"
NOT_YET = "not yet at the machine"
UNKNOWN = "unknown file"
NOT_A_FILE = "not a file"
TEMPORARY_LEFT = "unfinished file"
UNREACHABLE = "folder unreachable"
NOT_TAKEN_AWAY = "not yet taken away"
READ_BACK = "read-back differs"
MANIFEST_GONE = "manifest missing"
RECORDS_OLDER = "not these records' manifest"

_ADVICE = {
    MISSING: "a lead has the file written again, at the program's page at this machine",
    EDITED: "do not run it; read it back at the program's page, so that the edit is kept; then a lead has the file written again",
    NOT_YET: "it will be tried again; if it stays, see whether the folder can be reached and written",
    UNKNOWN: "do not run it; find out who put it there, and submit it or take it away",
    NOT_A_FILE: "take it away",
    TEMPORARY_LEFT: "take it away once nothing is being written",
    UNREACHABLE: "see whether the folder, or the share that it lies on, is there",
    NOT_TAKEN_AWAY: "do not run it; it will be tried again; if it stays, take the file away by hand",
    READ_BACK: "do not run it; load the release again at the control, or submit what the control holds",
    MANIFEST_GONE: "find out who took it away; it is written again with the next release",
    RECORDS_OLDER: "stop releasing, and tell an administrator: an old copy of the records may have been put back",
}


def drift_advice(kind: str) -> str:
    """What people should do about a kind of drift."""
    return _ADVICE.get(kind, "tell a lead")


@dataclass(frozen=True, slots=True)
class Drift:
    """One thing at a machine that is not the release: `kind` is a fixed word, `file` empty where no file is meant.

    `pending` says that a job of ours is still to be done there, so that it may right itself.
    """

    machine: str
    file: str
    kind: str
    detail: str
    pending: bool = False


def check_floor(shop: Shop) -> tuple[Drift, ...]:
    """Look into every machine's folder; gives what drifted, by machine and file, then read-backs that differ."""
    jobs = {(job.machine.id, job.file): job.kind for job in records.pending_jobs(shop)}
    found: list[Drift] = []
    for machine in records.machines(shop):
        orders = {file: kind for (number, file), kind in jobs.items() if number == machine.id}
        try:
            found += _check_machine(shop, machine, orders)
        except FolderTrouble as error:
            found.append(Drift(machine.name, "", UNREACHABLE, str(error), bool(orders)))
    for back in records.drifted(shop):
        detail = back.differences[0] if back.differences else "it differs"
        found.append(Drift(back.machine, back.program, READ_BACK, detail))
    return tuple(found)


def foreign_manifests(shop: Shop) -> tuple[str, ...]:
    """The machines whose manifest these records did not write, or wrote at a point that is not theirs any more.

    Looks at manifests only, so that it can be asked often; a folder that cannot be reached says nothing here.
    """
    found = []
    for machine in records.machines(shop):
        try:
            content = read_file(beside(shop.machine_folder(machine.folder)) / MANIFEST)
        except FolderTrouble:
            continue
        if ahead_of(shop, content):
            found.append(machine.name)
    return tuple(found)


def _check_machine(shop: Shop, machine: MachineFacts, orders: dict[str, str]) -> list[Drift]:
    folder = shop.machine_folder(machine.folder)
    names = names_in(folder)
    wanted = {one.file: one for one in records.floor_files(shop, machine)}
    found = []
    for name in names:
        kind, detail = _judge(shop, machine, folder / name, wanted.get(name), orders.get(name))
        if kind:
            found.append(Drift(machine.name, name, kind, detail, name in orders))
    for name, one in wanted.items():
        if name not in names:
            kind = NOT_YET if name in orders else MISSING
            found.append(Drift(machine.name, name, kind, f"revision {one.n} of {one.program}", name in orders))
    manifest = read_file(beside(folder) / MANIFEST)
    foreign = ahead_of(shop, manifest)
    if foreign:
        found.append(Drift(machine.name, MANIFEST, RECORDS_OLDER, foreign, bool(orders)))
    if manifest is None and any(one.written for one in wanted.values()):
        found.append(Drift(machine.name, MANIFEST, MANIFEST_GONE, "the folder's manifest is not there", bool(orders)))
    return sorted(found, key=lambda drift: (drift.file, drift.kind))


def _judge(
    shop: Shop, machine: MachineFacts, path: Path, wanted: FloorFile | None, order: str | None
) -> tuple[str, str]:
    """What is wrong with one entry of a folder, or an empty word."""
    if path.name.startswith(TEMPORARY):
        return TEMPORARY_LEFT, "a write that was broken off left it"
    try:
        digest = digest_of(path)
    except FolderTrouble as error:
        return NOT_A_FILE, str(error)
    if wanted is None:
        if order == "remove":
            return NOT_TAKEN_AWAY, "it was recalled, and its file still lies there"
        return UNKNOWN, "no release put it there"
    if digest is None:
        return MISSING, "it went while the folder was looked at"
    if digest == wanted.sha:
        return "", ""
    if order == "write" and records.known_at(shop, machine, wanted.program, digest):
        return NOT_YET, f"revision {wanted.n} of {wanted.program} is still to be written over an earlier one"
    return EDITED, f"its content is {digest[:12]}, the release is {wanted.sha[:12]}"


def found_bytes(shop: Shop, drift: Drift) -> bytes | None:
    """The bytes that lie where a drift was found, to be read back and kept; None where there are none to read."""
    folder = shop.machine_folder(records.machine(shop, drift.machine).folder)
    try:
        return read_file(folder / drift.file)
    except FolderTrouble:
        return None
