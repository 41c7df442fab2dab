"""Is the service alive, and may it be relied on: two addresses for whatever watches it, without any data of the shop."""

from __future__ import annotations

import os
import secrets
import shutil
from pathlib import Path

from flask import Blueprint, jsonify
from werkzeug.wrappers import Response

from verifier import records
from verifier.floor import foreign_manifests
from verifier.records import Shop
from verifier.service.context import Service, service
from verifier.source import StoreError

health = Blueprint("health", __name__)

ROOM = 32 << 20
"""So many bytes have to be free beside the records."""


@health.get("/healthz", endpoint="healthz")
def alive() -> Response:
    """Whether the process answers; looks at nothing."""
    return jsonify(status="ok")


@health.get("/readyz", endpoint="readyz")
def ready() -> Response:
    """Whether acts can be taken: every reason why not, in words that tell no names, folders or secrets."""
    reasons = faults(service())
    response = jsonify(status="not ready" if reasons else "ready", reasons=reasons)
    response.status_code = 503 if reasons else 200
    return response


def faults(running: Service) -> list[str]:
    """Every reason not to rely on this service now."""
    if not running.exists():
        return ["there is no shop yet"]
    found = [] if writable(running.config.shop) else ["the disk of the records is full or cannot be written"]
    try:
        shop = running.shop()
        records.check_shop(shop)
        if foreign_manifests(shop):
            found.append(
                "a machine's manifest was written by records that are ahead of these: an old copy was put back?"
            )
        if not _watched(shop, running):
            found.append("the machines' folders have not been looked at lately")
    except StoreError as error:
        text = "busy" if isinstance(error, records.Busy) else "not in order: verify the ledger"
        found.append(f"the records are {text}")
    return found


def _watched(shop: Shop, running: Service) -> bool:
    """Whether the folders were looked at within three turns; a service without a publisher is not held to it."""
    if running.publish is None:
        return True
    look = records.last_look(shop)
    return look is not None and running.clock() - look.at_us < 3_000_000 * running.config.watch_s + 10_000_000


def writable(folder: Path) -> bool:
    """Whether a file can be written there, and there is room."""
    probe = folder / f".probe-{secrets.token_hex(8)}"
    try:
        if shutil.disk_usage(folder).free < ROOM:
            return False
        descriptor = os.open(probe, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        try:
            os.write(descriptor, b"x")
        finally:
            os.close(descriptor)
            os.unlink(probe)
    except OSError:
        return False
    return True
