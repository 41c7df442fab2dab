"""The list of what a machine's folder holds, kept in a folder beside it: a serial that only rises, and each file's digest."""

from __future__ import annotations

import rfc8785

from verifier import records
from verifier.records import JobFacts, Shop

MANIFEST = "manifest.json"
SCHEMA = "machine-manifest/1"


def manifest_bytes(shop: Shop, job: JobFacts) -> bytes:
    """The manifest of the job's machine once that job is done, in its canonical form.

    Lists the files that were read back, and the job's own; a file still to be written is not in it.
    """
    files: list[dict[str, str | int]] = [
        {"file": one.file, "program": one.program, "revision": one.n, "sha256": one.sha, "size": one.size}
        for one in records.floor_files(shop, job.machine)
        if one.written or (job.kind == "write" and one.file == job.file)
    ]
    serial = records.floor_serial(shop, job.machine)
    head = {"schema": SCHEMA, "shop": records.shop_id(shop), "machine": job.machine.name}
    return rfc8785.dumps({**head, "serial": serial, "files": files})
