"""Logs as JSON, one event on one line, in UTC; no secret ever gets into them."""

from __future__ import annotations

import json
import logging
import sys
import time
import traceback
from datetime import UTC, datetime
from typing import Any, TextIO

from flask import g, request
from werkzeug.wrappers import Response

from verifier.service.context import PLAIN, address, service, signed

LOG = logging.getLogger("verifier.service")

#: Fields of forms that no log may hold, and whose values are taken out of every message.
SECRET_FIELDS = ("password", "new_password", "again", "pin", "new_pin", "code", "token", "form_token")
_SHOWN = 500


class JsonLines(logging.Formatter):
    """One object a line: the time, what happened, and the facts that came with it."""

    def format(self, record: logging.LogRecord) -> str:
        """The line; control characters are escaped, so that nothing from outside can begin a line of its own."""
        at = datetime.fromtimestamp(record.created, tz=UTC).isoformat(timespec="milliseconds")
        facts: dict[str, Any] = getattr(record, "facts", {})
        line = {"at": at, "level": record.levelname.lower(), "event": record.getMessage(), **facts}
        return json.dumps(line, ensure_ascii=True, default=str)


def log_to(stream: TextIO = sys.stderr) -> None:
    """Send the service's events to a stream."""
    handler = logging.StreamHandler(stream)
    handler.setFormatter(JsonLines())
    LOG.handlers[:] = [handler]
    LOG.setLevel(logging.INFO)
    LOG.propagate = False


def event(name: str, **facts: object) -> None:
    """Log one event of a request, with its id, its address and the person."""
    who = signed()
    LOG.info(
        name, extra={"facts": {"id": g.get("id"), "from": address(), "person": who.login if who else None, **facts}}
    )


def begin_request() -> None:
    """Give the request its id."""
    g.id, g.began = service().new_id(), time.monotonic()


def log_request(response: Response) -> Response:
    """Log the request by its route, never with what was typed: not even an address line's query."""
    if request.endpoint in PLAIN and response.status_code == 200:
        return response
    took = round((time.monotonic() - g.get("began", time.monotonic())) * 1000, 1)
    event("request", method=request.method, path=request.path[:_SHOWN], status=response.status_code, ms=took)
    return response


def log_mistake(error: BaseException) -> None:
    """Log a mistake of the code with where it happened; values that were secret in this request are taken out."""
    frames = [f"{f.filename}:{f.lineno} {f.name}" for f in traceback.extract_tb(error.__traceback__)]
    message = without_secrets(str(error))[:_SHOWN]
    facts = {"id": g.get("id"), "type": type(error).__name__, "message": message, "frames": frames[-20:]}
    LOG.error("mistake", extra={"facts": facts})


def without_secrets(text: str) -> str:
    """A text without any secret of this request."""
    try:
        known = [request.form.get(name, "") for name in SECRET_FIELDS] + list(request.cookies.values())
        known.append(request.headers.get("Authorization", "").partition(" ")[2])
    except Exception:  # the request itself may be what is broken
        return "(not shown)"
    for secret in sorted({value for value in known if len(value) >= 4}, key=len, reverse=True):
        text = text.replace(secret, "***")
    return text
