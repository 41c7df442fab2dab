"""Publishing as the tests do it: tokens that never repeat, folders and manifests by the machine's name."""

from __future__ import annotations

import itertools
import json
from collections.abc import Callable
from pathlib import Path

from shops import TestShop, approve, release, submit

from verifier import floor, records

STEPS = (
    "locked",
    "created",
    "half written",
    "written",
    "synced",
    "checked",
    "renamed",
    "folder synced",
    "manifest created",
    "manifest half written",
    "manifest written",
    "manifest synced",
    "manifest checked",
    "manifest renamed",
    "manifest folder synced",
    "recorded",
)

NUMBERS = itertools.count()


def new_id() -> str:
    return f"t{next(NUMBERS)}"


def folder(t: TestShop, machine: str = "L1") -> Path:
    return t.shop.folder / "machines" / machine


def publish(t: TestShop, step: Callable[[str], None] = lambda name: None) -> tuple[floor.JobResult, ...]:
    return floor.publish_pending(t.shop, new_id, step)


def released(t: TestShop, body: bytes, base: bytes | None = None, **changes: object) -> records.RevisionFacts:
    revision = submit(t, body, base, **changes)
    if revision.state == "held":
        revision = approve(t, revision)
    release(t, revision)
    return revision


def at_machine(t: TestShop, machine: str = "L1") -> list[bool]:
    return [one.at_machine for one in records.at_machine(t.shop, machine)]


def manifest(t: TestShop, machine: str = "L1") -> dict[str, object]:
    content = (t.shop.folder / "machines" / f"{machine}.manifest" / "manifest.json").read_bytes()
    return dict(json.loads(content))
