"""Figures for whoever watches over the service: counts and ages without names or secrets, for this computer or a token that reads."""

from __future__ import annotations

import ipaddress
import os
from collections.abc import Iterator

from flask import Blueprint, Flask, request
from werkzeug.wrappers import Response

from verifier import records
from verifier.service.context import METRICS, address, service, signed
from verifier.service.meter import Family, text
from verifier.version import VERSION

metrics = Blueprint("metrics", __name__)

_KIND = "text/plain; version=0.0.4; charset=utf-8"
_PASSED_ON = ("X-Forwarded-For", "Forwarded", "X-Real-IP")


@metrics.get(METRICS)
def figures() -> Response:
    """The figures of this moment, in the text exposition format."""
    who = signed()
    if not (service().config.open_metrics or _on_this_computer()):
        if who is None:
            return _told(401, "a token with the scope read is needed")
        if who.scopes is None or "read" not in who.scopes:
            return _told(403, "this token is not good for it: it needs the scope read")
    return Response(text(_families()), content_type=_KIND)


def count_requests(app: Flask) -> None:
    """Count every request of this worker by its outcome."""

    @app.after_request
    def _count(response: Response) -> Response:
        service().meter.count(request.method, response.status_code)
        return response


def _on_this_computer() -> bool:
    """Whether the request was made here: what somebody in front passed on was not, whoever they say it is from."""
    if not service().config.proxy_hops and any(name in request.headers for name in _PASSED_ON):
        return False
    try:
        return ipaddress.ip_address(address()).is_loopback
    except ValueError:
        return False


def _told(status: int, words: str) -> Response:
    response = Response(words + "\n", status, mimetype="text/plain")
    if status == 401:
        response.headers["WWW-Authenticate"] = "Bearer"
    return response


def _families() -> Iterator[Family]:
    yield Family("verifier_info", "gauge", "version of the program", (({"version": VERSION}, 1),))
    yield from _of_worker()
    running = service()
    yield Family("verifier_shop", "gauge", "whether there is a shop", (({}, int(running.exists())),))
    if running.exists():
        yield from _of_shop()


def _of_worker() -> Iterator[Family]:
    """What this worker counted since it began; each worker answers for itself, told apart by a label."""
    worker = str(os.getpid())
    requests, refused = service().meter.copied()
    yield Family(
        "verifier_requests_total",
        "counter",
        "requests answered by this worker, by method and class of status",
        tuple(({"worker": worker, "method": m, "status": s}, n) for (m, s), n in sorted(requests.items())),
    )
    yield Family(
        "verifier_refusals_total",
        "counter",
        "acts refused by this worker, by code",
        tuple(({"worker": worker, "code": code}, n) for code, n in sorted(refused.items())),
    )


def _of_shop() -> Iterator[Family]:
    opened, now = service().shop(), service().clock()
    since = service().meter.seq
    acts = service().meter.add_acts(since, *records.acts_after(opened, since))
    found = records.figures(opened)
    yield Family(
        "verifier_acts_total",
        "counter",
        "acts in the ledger, by name",
        tuple(({"act": a}, n) for a, n in sorted(acts.items())),
    )
    yield Family(
        "verifier_revisions",
        "gauge",
        "revisions, by state",
        tuple(({"state": s}, n) for s, n in found.revisions.items()),
    )
    yield Family(
        "verifier_drift",
        "gauge",
        "files not as released at the last look, by kind",
        tuple(({"kind": k}, n) for k, n in sorted(found.drift.items())),
    )
    age = 0.0 if found.oldest_pending_us is None else max(0, now - found.oldest_pending_us) / 1e6
    single = (
        ("verifier_decisions_waiting", "revisions held for a lead", found.revisions["held"]),
        ("verifier_jobs_pending", "files still to be written or taken away", found.jobs_pending),
        ("verifier_jobs_for_take_over", "files that wait for an operator to take them over", found.jobs_for_take_over),
        ("verifier_oldest_pending_job_seconds", "age of the oldest file still to be written; 0 where there is none", age),
        ("verifier_confirmations_waiting", "releases at a machine that no operator has confirmed", found.to_confirm),
        ("verifier_drift_files", "files not as released at the last look", sum(found.drift.values())),
        ("verifier_readbacks_differing", "newest read-backs that are not the release", found.readbacks_differing),
        ("verifier_ledger_entries", "entries of the ledger", found.ledger_entries),
        ("verifier_records_bytes", "size of the records", found.records_bytes),
        ("verifier_last_look_timestamp_seconds", "when the folders were last looked at; 0 before that", (found.looked_us or 0) / 1e6),
    )  # fmt: skip
    for name, words, value in single:
        yield Family(name, "gauge", words, (({}, float(value)),))
