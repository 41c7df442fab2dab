"""A form that is sent twice acts once: each form carries a number of its own, and what came of it is remembered.

A double click, a page loaded again, or a browser that sends again after a lost connection would otherwise hand in, order or
confirm a second time. It is marked in the transaction of its act, and kept with the answers of programs that send a key,
for as long. The same form with other content is another act: nobody's second thought is swallowed.
"""

from __future__ import annotations

import re
import secrets
import time
from contextlib import ExitStack
from hashlib import sha256

from flask import flash, g, redirect, request
from werkzeug.wrappers import Response

from verifier import records
from verifier.service.context import Signed, service, shop, signed
from verifier.service.logs import event
from verifier.source import ActRefused, VerifierError

_NUMBER = re.compile(r"[A-Za-z0-9_-]{22}")
_BYTES = 16
_WAIT_S, _PAUSE_S = 5.0, 0.1
"""So long the second of two waits for the first to be done, and how often it looks."""


def form_number() -> str:
    """A number for one form on one page: 128 random bits."""
    return secrets.token_urlsafe(_BYTES)


def begin() -> Response | None:
    """Claim what was sent for this request; where it was sent before, answer with what came of that."""
    who, given = signed(), request.form.get("once", "") if request.method == "POST" else ""
    if who is None or who.scopes is not None or not _NUMBER.fullmatch(given):
        return None
    key = f"form {_mark()}"
    claim = _claimed(who, key)
    if claim.kind == "new":
        g.once = (who.person.id, key, claim)
        g.answering = ExitStack()
        g.answering.enter_context(records.answering(*g.once))
        return None
    event("form sent again", was=claim.kind)
    if claim.kind == "running":
        raise ActRefused("form_running", "this form is still being worked on", "look at the page again in a moment")
    place = claim.content.decode("utf-8")
    if not place:
        raise ActRefused("form_sent", "this form was sent before, and was carried out once", "load its page anew")
    flash("This form was sent before; it was carried out once.")
    return redirect(place, 303)


def _claimed(who: Signed, key: str) -> records.Claim:
    ends = time.monotonic() + _WAIT_S
    while True:
        claim = records.claim_answer(shop(), who.person.id, key, "")
        if claim.kind != "running" or time.monotonic() >= ends:
            return claim
        time.sleep(_PAUSE_S)


def finish(response: Response) -> Response:
    """Keep where an act that was done led to; give the claim back after a refusal, so that the form may be sent again."""
    held = g.pop("once", None)
    if held is None:
        return response
    person, key, claim = held
    try:
        if response.status_code < 400:
            place = response.headers.get("Location", "")
            records.keep_answer(shop(), person, key, claim, response.status_code, place.encode("utf-8"))
        else:
            records.drop_claim(shop(), person, key, claim)
    except VerifierError as error:  # the act itself stands; a second sending meets the act's own rules
        event("form not kept", trouble=type(error).__name__)
    return response


def leave(_: BaseException | None) -> None:
    """What this thread does after the request is no longer what the form asked for."""
    held = g.pop("answering", None)
    if held is not None:
        held.close()


def _mark() -> str:
    """What stands for a form as it was sent: keyed, because a PIN is in it. Files are read and put back to their start."""
    parts = [request.path]
    for name, values in sorted(request.form.lists()):
        if name != "form_token":
            parts += [name, str(len(values)), *values]
    for name, files in sorted(request.files.lists()):
        for file in files:
            parts += [name, file.filename or "", sha256(file.stream.read()).hexdigest()]
            file.stream.seek(0)
    text = "\0".join(f"{len(part)}:{part}" for part in parts)
    return service().key.keyed("form sent", sha256(text.encode("utf-8", "surrogatepass")).hexdigest())
