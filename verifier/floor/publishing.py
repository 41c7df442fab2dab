"""Carries out the jobs that releases and recalls left: floor copies appear or go, and the records are told once they did.

Nothing here holds the records' write lock while it touches a folder, so that a stalled share stops no act. Each job may
be run again after any crash: whatever step was reached, the next run brings it to its end.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from verifier import records
from verifier.floor.folder import (
    FolderTrouble,
    Step,
    beside,
    digest_of,
    names_in,
    read_file,
    remove_whole,
    sweep,
    sync_folder,
    write_whole,
)
from verifier.floor.manifest import MANIFEST, ahead_of, manifest_bytes
from verifier.records import JobFacts, Shop
from verifier.source import ActRefused

DONE = "done"
PENDING = "pending"
OVERTAKEN = "overtaken"

_TOKEN = re.compile(r"[A-Za-z0-9]{1,64}")


@dataclass(frozen=True, slots=True)
class JobResult:
    """What came of one job: `done`, `pending` with the trouble in words, or `overtaken` by a later act."""

    machine: str
    program: str
    kind: str
    file: str
    state: str
    trouble: str | None = None


def _nothing(step: str) -> None:
    """Take no notice of a step."""


def make_folders(shop: Shop, only: str | None = None) -> tuple[Path, ...]:
    """Make the folders of all machines, or of one by its name, where they are missing; gives those made.

    Publishing never does: a folder that is gone may be a share that is not there, and a new one would hide that.
    """
    made = []
    for machine in records.machines(shop):
        if only is not None and machine.name != only:
            continue
        folder = shop.machine_folder(machine.folder)
        if not folder.exists():
            folder.mkdir(parents=True)
            made.append(folder)
    return tuple(made)


def publish_pending(shop: Shop, new_id: Callable[[], str], step: Step = _nothing) -> tuple[JobResult, ...]:
    """Carry out every pending job, oldest first; also ends prove-outs whose days are over.

    `new_id` gives a short token of letters and digits for each temporary file, never one twice; `step` is told how far
    a job has come. A folder that cannot be written leaves its job pending, with the trouble recorded.
    """
    records.end_overdue(shop)
    results: list[JobResult] = []
    seen: set[int] = set()
    while jobs := [job for job in records.pending_jobs(shop) if job.id not in seen]:
        # An act that came in meanwhile (a recall, say) is carried out in the same run.
        seen.update(job.id for job in jobs)
        results += [_carry_out(shop, job, new_id, step) for job in jobs]
    return tuple(results)


def _carry_out(shop: Shop, job: JobFacts, new_id: Callable[[], str], step: Step) -> JobResult:
    folder = shop.machine_folder(job.machine.folder)
    try:
        state = _under_lock(shop, job, folder, new_id, step)
    except (FolderTrouble, ActRefused, OSError) as error:
        trouble = f"the folder: {error.strerror or error}" if isinstance(error, OSError) else str(error)
        records.trouble_job(shop, job.id, trouble)
        return JobResult(job.machine.name, job.program, job.kind, job.file, PENDING, trouble)
    return JobResult(job.machine.name, job.program, job.kind, job.file, state)


def _under_lock(shop: Shop, job: JobFacts, folder: Path, new_id: Callable[[], str], step: Step) -> str:
    if folder.is_symlink() or not folder.is_dir():
        raise FolderTrouble(f"the machine's folder is {'a link' if folder.is_symlink() else 'not there'}")
    side = beside(folder)
    side.mkdir(exist_ok=True)
    with records.file_lock(side / "lock"):
        if not records.still_wanted(shop, job.id):
            return OVERTAKEN
        step("locked")
        foreign = ahead_of(shop, read_file(side / MANIFEST))
        if foreign:
            raise FolderTrouble(f"{foreign}; compare the folder, and take the manifest away once it is settled")
        sweep(folder)
        sweep(side)
        sha = _write(shop, job, folder, new_id, step) if job.kind == "write" else _remove(shop, job, folder, step)
        if sha == "":
            return OVERTAKEN
        _write_manifest(shop, job, side, new_id, step)
        finished = records.finish_job(shop, job.id, sha)
        step("recorded")
        return DONE if finished else OVERTAKEN


def _write(shop: Shop, job: JobFacts, folder: Path, new_id: Callable[[], str], step: Step) -> str | None:
    """Bring the floor copy about; gives the digest read back, or an empty word if it is no longer wanted."""
    path = folder / job.file
    _check_way(shop, job, folder)
    if digest_of(path) != job.sha:
        content = records.body(shop, job.sha)
        if sha256(content).hexdigest() != job.sha:
            raise FolderTrouble("the stored bytes are damaged; verify the ledger")
        if not write_whole(path, content, _token(new_id), lambda: records.still_wanted(shop, job.id), step):
            return ""
    else:
        sync_folder(folder)  # an earlier run may have been cut off between the rename and this
    return digest_of(path)


def _check_way(shop: Shop, job: JobFacts, folder: Path) -> None:
    """Refuse to write over what no release put there: an edit made at the machine is never lost."""
    for name in names_in(folder):
        if name.casefold() == job.file.casefold() and name != job.file:
            raise FolderTrouble(f"the folder holds {name}, which some computers take for {job.file}")
    found = digest_of(folder / job.file)
    if found is not None and found != job.sha and not records.known_at(shop, job.machine, job.program, found):
        raise FolderTrouble(
            f"{job.file} was edited at the machine; read it back, so that the edit is kept, and try again"
        )


def _remove(shop: Shop, job: JobFacts, folder: Path, step: Step) -> str | None:
    """Take the floor copy away; content that nobody knows is left, and the job waits for a read-back."""
    path = folder / job.file
    found = digest_of(path)
    if found is not None:
        _check_way(shop, job, folder)
        if not records.still_wanted(shop, job.id):
            return ""
        remove_whole(path, step)
    else:
        sync_folder(folder)
    return digest_of(path)


def _write_manifest(shop: Shop, job: JobFacts, side: Path, new_id: Callable[[], str], step: Step) -> None:
    """Write the manifest last: it names what is there, so it never runs ahead of the files."""
    content = manifest_bytes(shop, job)
    path = side / MANIFEST
    if digest_of(path) != sha256(content).hexdigest():
        write_whole(path, content, _token(new_id), lambda: True, lambda name: step("manifest " + name))


def _token(new_id: Callable[[], str]) -> str:
    token = new_id()
    if not _TOKEN.fullmatch(token):
        raise ValueError(f"{token!r} cannot be part of a file name: letters and digits only")
    return f"{token}-{os.getpid()}"
