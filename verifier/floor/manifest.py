"""The list of what a machine's folder holds, kept beside it: a serial that only rises, digests, a point of the ledger."""

from __future__ import annotations

import json

import rfc8785

from verifier import records
from verifier.records import Checkpoint, JobFacts, Shop

MANIFEST = "manifest.json"
SCHEMA = "machine-manifest/1"


def read_checkpoint(content: bytes) -> Checkpoint | None:
    """Where the ledger stood when a manifest was written, or None where it is not a manifest of this form."""
    try:
        found = json.loads(content)
        size, head = found["ledger"]["size"], found["ledger"]["head"]
        if found["schema"] == SCHEMA and type(size) is int and size.bit_length() < 63:
            return Checkpoint(str(found["shop"]), size, str(head))
    except (ValueError, KeyError, TypeError, RecursionError):
        return None
    return None


def ahead_of(shop: Shop, content: bytes | None) -> str:
    """Why the records are not those that last wrote this folder, in words; empty when they are, or nothing is there.

    Each manifest keeps a point of the ledger outside the records: with an old copy put back, or another history, the
    ledger no longer runs through it.
    """
    if content is None:
        return ""
    point = read_checkpoint(content)
    if point is None:
        return "the folder's manifest cannot be read"
    if point.shop != records.shop_id(shop):
        return "the folder's manifest was written by another shop"
    if not records.agrees(shop, point):
        return f"the folder's manifest was written at entry {point.size} of a ledger that is not this one: an old copy?"
    return ""


def manifest_bytes(shop: Shop, job: JobFacts) -> bytes:
    """The manifest of the job's machine once that job is done, in its canonical form, with where the ledger stands.

    Lists the files that were read back, and the job's own; a file still to be written is not in it.
    """
    files: list[dict[str, str | int]] = [
        {"file": one.file, "program": one.program, "revision": one.n, "sha256": one.sha, "size": one.size}
        for one in records.floor_files(shop, job.machine)
        if one.written or (job.kind == "write" and one.file == job.file)
    ]
    serial = records.floor_serial(shop, job.machine)
    point = records.checkpoint(shop)
    ledger: dict[str, str | int] = {"size": point.size, "head": point.head}
    head: dict[str, str | int] = {"schema": SCHEMA, "shop": point.shop, "machine": job.machine.name, "serial": serial}
    return rfc8785.dumps({**head, "ledger": ledger, "files": files})
