"""Files handed in with a form: their bytes as they came, within the limit, under a name that is only ever shown."""

from __future__ import annotations

import re

from flask import request

from verifier.service.context import service
from verifier.source import ActRefused

_SHOWN = 80


def upload(field: str, *, limit: int | None = None) -> tuple[str, bytes]:
    """The (name, bytes) of the file in a field of the form.

    ActRefused `bad_form` where none was chosen, `empty` and `too_large` (413) by its size. The name comes from outside:
    it is for messages, never for a path.
    """
    storage = request.files.get(field)
    if storage is None or not storage.filename:
        raise ActRefused("bad_form", f"choose a file for the {field}")
    most = limit if limit is not None else service().config.upload_limit
    data = storage.stream.read(most + 1)
    if len(data) > most:
        raise ActRefused(
            "too_large", f"the file is larger than {most // (1 << 20)} MiB", "the shop's settings say how much is taken"
        )
    if not data:
        raise ActRefused("empty", "the file is empty")
    return shown_name(storage.filename), data


def optional_upload(field: str) -> tuple[str, bytes] | None:
    """The same where a file may be left out."""
    storage = request.files.get(field)
    return upload(field) if storage is not None and storage.filename else None


def shown_name(name: str) -> str:
    """A file's name as it may be shown: its last part, without control characters, shortened."""
    last = re.split(r"[/\\]", name)[-1]
    return "".join(c if c.isprintable() else "?" for c in last)[:_SHOWN] or "file"
